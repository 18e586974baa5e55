"""Rendered crops of the upper rim with its true contours, and close crops round pen dots."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from benchmarks.ears import EARS
from calibration.card import POCKET
from calibration.frames import Array, Image
from calibration.lens import Camera
from sample_images.curves import UPPER_RIM
from sample_images.ears import Ear, build_ear
from sample_images.render import render
from sample_images.scene import Look, Standing, View, look_at
from sample_images.visible import contours

BACKGROUNDS = ("hair", "plain", "skin")
TONES = ("light", "olive", "brown", "dark")
EXPOSURE = {"light": 0.95, "olive": 1.05, "brown": 1.25, "dark": 1.5}
HAIR = ((0.055, 0.035, 0.025), (0.02, 0.014, 0.012), (0.16, 0.1, 0.06), (0.25, 0.19, 0.12))
MARGIN_MM = 7.0


@dataclass(frozen=True, eq=False)
class RimScene:
    """A crop of a photo round the upper rim.  Contours (N, 2) px of the crop, front to back."""

    ear: str
    behind: str
    picture: Image
    px_per_mm: float
    outer_px: Array
    inner_px: Array


def random_look(rng: np.random.Generator, behind: str, seed: int) -> Look:
    """Return light, skin and camera quality drawn at random."""
    tone = TONES[int(rng.integers(len(TONES)))]
    light = np.array([rng.uniform(-0.7, 0.7), rng.uniform(-0.9, -0.3), -0.75])
    return Look(
        tone=tone,
        light=(float(light[0]), float(light[1]), float(light[2])),
        hair=HAIR[int(rng.integers(len(HAIR)))],
        loose_strands=int(rng.integers(0, 4)),
        blur_px=float(rng.uniform(0.5, 1.3)),
        noise=float(rng.uniform(0.006, 0.02)),
        exposure=EXPOSURE[tone],
        seed=seed,
        behind=behind,
        cloth=tuple(rng.uniform(0.08, 0.75, 3).tolist()),
    )


def standing_at(ear: Ear, at: Array, rng: np.random.Generator) -> Standing:
    """Return the ear beside a pocket card, turned a little, ``at`` (ear frame, mm) at its plane."""
    turn, _ = cv2.Rodrigues(np.deg2rad(4.0) * rng.standard_normal(3))
    return Standing(POCKET, (1.0, 1.0), np.asarray(turn), at, np.array([120.0, 20.0, 0.0]))


def view_from(
    standing: Standing, rng: np.random.Generator, focal_px: float, distance_mm: float
) -> View:
    """Return a phone that looks at the standing's anchor, up to 20 degrees tilted."""
    tilt, round_ = np.deg2rad(rng.uniform(0.0, 20.0)), rng.uniform(0.0, 2.0 * np.pi)
    aside = np.sin(tilt) * np.array([np.cos(round_), np.sin(round_)])
    at = np.asarray(standing.anchor_card)
    centre = at + distance_mm * np.array([*aside, -np.cos(tilt)])
    rvec, tvec = look_at(centre, at, float(rng.normal(0.0, 5.0)))
    camera = Camera(focal_px, focal_px, 0.0, 0.0, (float(rng.uniform(-0.03, 0.03)), 0, 0, 0, 0))
    return View(camera, (1, 1), rvec, tvec)


def cropped(view: View, low: Array, high: Array) -> View:
    """Return the view with the picture cut to ``low``..``high`` (px, (2,) each)."""
    camera = view.camera
    moved = Camera(
        camera.fx, camera.fy, camera.cx - float(low[0]), camera.cy - float(low[1]), camera.dist
    )
    size = (int(high[0] - low[0]), int(high[1] - low[1]))
    return View(moved, size, view.rvec, view.tvec)


def rim_scene(seed: int, index: int) -> RimScene:
    """Return scene ``index``: ears and backgrounds in turn, all else at random."""
    rng = np.random.default_rng([seed, index])
    name = EARS[index % len(EARS)]
    behind = BACKGROUNDS[(index // len(EARS)) % len(BACKGROUNDS)]
    ear = build_ear(name)
    top, _ = ear.line.place(sum(UPPER_RIM) / 2)
    standing = standing_at(ear, np.array([*top, 2.0]), rng)
    px_per_mm = rng.uniform(5.0, 11.0)
    distance = rng.uniform(200.0, 380.0)
    view = view_from(standing, rng, px_per_mm * distance, distance)
    centre = standing.to_ear(view.centre_card[None])[0]
    lines = [view.pixels(standing.to_card(line)) for line in contours(ear, centre, 60)]
    both = np.concatenate(lines)
    margin = MARGIN_MM * px_per_mm
    low, high = np.floor(both.min(axis=0) - margin), np.ceil(both.max(axis=0) + margin)
    close = cropped(view, low, high)
    picture = render(ear, standing, close, random_look(rng, behind, 100 + index))
    return RimScene(name, behind, picture, px_per_mm, lines[0] - low, lines[1] - low)
