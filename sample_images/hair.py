"""Hair behind the ear and a few loose strands over it, drawn line by line."""

from __future__ import annotations

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
    rng = np.random.default_rng(look.seed + 3)
    px_mm = view.camera.fx / float(np.linalg.norm(view.centre_card))
    behind = cv2.GaussianBlur((depth > BEHIND_MM).astype(np.float64), (0, 0), 1.0)[..., None]
    mass = [
        strand
        for i, (*region, count) in enumerate(HAIR_REGIONS)
        for strand in strands(look.seed + 4 + i, count, region)
    ]
    cover = light.copy()
    for strand in mass:
        shade = np.asarray(look.hair) * rng.uniform(0.4, 2.2)
        _draw(cover, strand, standing, view, shade, max(1, round(0.22 * px_mm)))
    if look.behind == "hair":
        light = light * (1 - behind) + cover * behind
    for strand in strands(look.seed + 8, look.loose_strands, (-26.0, -34.0, -4.0, -20.0)):
        over = light.copy()
        lifted = strand * [1.0, 1.0, 0.0] + [0.0, 0.0, -2.5]
        _draw(over, lifted, standing, view, np.asarray(look.hair) * 1.6, 1)
        free = (depth > -90.0)[..., None]
        light = np.where(free, 0.45 * light + 0.55 * over, light)
    return light


def _draw(
    canvas: Array, strand: Array, standing: Standing, view: View, shade: Array, width_px: int
) -> None:
    pixels = view.pixels(standing.to_card(strand))
    points = np.round(pixels * 16).astype(np.int32).reshape(-1, 1, 2)
    colour = [float(v) for v in shade]
    cv2.polylines(canvas, [points], False, colour, width_px, cv2.LINE_AA, shift=4)
