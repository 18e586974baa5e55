"""Hair behind the ear and a few loose strands over it, drawn line by line."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np

from calibration.frames import Array
from sample_images.scene import Look, Standing, View
from sample_images.skin import strands

BEHIND_MM = -1.2
"""Nearer to the head's skin than this, or behind it, is not ear."""

HAIR_REGIONS = ((-60.0, -150.0, 110.0, -36.0, 5200), (21.0, -60.0, 120.0, 55.0, 3800))
"""x0, y0, x1, y1 (mm) where hair grows above and behind the ear, and how many strands."""


def with_hair(light: Array, depth: Array, standing: Standing, view: View, look: Look) -> Array:
    """Return the picture with hair behind the ear and a few loose strands over it."""
    if look.behind == "hair" and (depth > BEHIND_MM).any():
        behind = cv2.GaussianBlur((depth > BEHIND_MM).astype(np.float64), (0, 0), 1.0)[..., None]
        light = light * (1 - behind) + _mass(light, standing, view, look) * behind
    for strand in strands(look.seed + 8, look.loose_strands, (-26.0, -34.0, -4.0, -20.0)):
        over = light.copy()
        lifted = strand * [1.0, 1.0, 0.0] + [0.0, 0.0, -2.5]
        pixels = view.pixels(standing.to_card(lifted))
        _line(over, pixels, np.asarray(look.hair) * 1.6, 1)
        free = (depth > -90.0)[..., None]
        light = np.where(free, 0.45 * light + 0.55 * over, light)
    return light


def _mass(light: Array, standing: Standing, view: View, look: Look) -> Array:
    """Return the picture covered by the hair behind the ear."""
    rng = np.random.default_rng(look.seed + 3)
    px_mm = view.camera.fx / float(np.linalg.norm(view.centre_card))
    grown = _grown(look.seed)
    shades = rng.uniform(0.4, 2.2, len(grown))
    pixels = view.pixels(standing.to_card(grown.reshape(-1, 3))).reshape(*grown.shape[:2], 2)
    width = max(1, round(0.22 * px_mm))
    room = np.array(view.size_px) + width + 1
    near = ((pixels.max(axis=1) > -width - 1) & (pixels.min(axis=1) < room)).all(axis=1)
    cover = light.copy()
    for k in np.flatnonzero(near):
        _line(cover, pixels[k], np.asarray(look.hair) * shades[k], width)
    return cover


@lru_cache(maxsize=2)
def _grown(seed: int) -> Array:
    """Return the strands of the hair behind the ear, (S, 24, 3) mm."""
    parts = [
        strands(seed + 4 + i, count, region) for i, (*region, count) in enumerate(HAIR_REGIONS)
    ]
    return np.array([strand for part in parts for strand in part])


def _line(canvas: Array, pixels: Array, shade: Array, width_px: int) -> None:
    points = np.round(pixels * 16).astype(np.int32).reshape(-1, 1, 2)
    colour = [float(v) for v in shade]
    cv2.polylines(canvas, [points], False, colour, width_px, cv2.LINE_AA, shift=4)
