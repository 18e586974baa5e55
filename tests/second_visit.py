"""Two photos of one rendered ear with a post painted into them, for tests of a second visit.

The ear, its card and its rim are the sample's; the post's two balls are shaded discs painted where
they would be seen.  The second photo is the first one turned a little in its own plane, as a phone
held a little differently would show it, and saved anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from calibration.frames import Array, Image
from sample_images.sets import sample_set
from sample_images.visible import contours, outer_contour

PHOTO = Path(__file__).resolve().parents[1] / "sample_images" / "pronounced" / "square-on.jpg"
BALL_MM, BEYOND_MM = 1.5, 3.0
"""Radius of a ball, and how far its middle lies beyond the skin."""
ROLL_DEG, SHIFT_PX, SCALE = 2.0, (9.0, -6.0), 0.985


@dataclass(frozen=True, eq=False)
class Shot:
    """A photo's bytes, and where rim and post are in it, px."""

    data: bytes
    outer: Array
    inner: Array
    ends: Array  # upper, lower
    skin: Array  # above, below
    ball_px: float

    def marks(self, label: str, jitter_px: float = 0.0, seed: int = 1) -> dict[str, Any]:
        """Return the marks as the marking sends them, each off by that much (sd, each axis)."""
        rng = np.random.default_rng(seed)

        def off(points: Array) -> list[list[float]]:
            moved = points + jitter_px * rng.standard_normal(points.shape)
            return [[float(x), float(y)] for x, y in moved]

        (upper, lower), (above, below) = off(self.ends), off(self.skin)
        placement = {"label": label, "entry_end": upper, "exit_end": lower}
        placement |= {"entry": above, "exit": below}
        return {
            "outer_rim": off(self.outer),
            "inner_rim": off(self.inner),
            "placements": [placement],
        }


@cache
def shot(again: bool = False, lean_deg: float = 0.0) -> Shot:
    """Return the first photo, or the one at the later visit, the post leaning by that much."""
    sample = sample_set("pronounced")
    view, standing = sample.view("square-on"), sample.standing
    centre = standing.to_ear(view.centre_card[None])[0]
    placement = sample.placements["A"]
    axis = (placement.entry - placement.exit) / placement.channel_mm
    ends = np.array([placement.entry + BEYOND_MM * axis, placement.exit - BEYOND_MM * axis])

    def px(points: Array) -> Array:
        return np.asarray(view.pixels(standing.to_card(points)))

    outer = px(outer_contour(sample.ear, centre, (0.2, 0.92), 45))
    inner = px(contours(sample.ear, centre, 24)[1])
    skin, ends_px = px(np.array([placement.entry, placement.exit])), px(ends)
    middle, turn = ends_px.mean(axis=0), np.deg2rad(lean_deg)
    c, s = np.cos(turn), np.sin(turn)
    ends_px = (ends_px - middle) @ np.array([[c, s], [-s, c]]) + middle
    ball = BALL_MM * float(np.linalg.norm(skin[0] - skin[1])) / placement.channel_mm
    picture = _painted(cv2.imread(str(PHOTO)), ends_px, ball)  # type: ignore[arg-type]
    places = [outer, inner, ends_px, skin]
    if again:
        roll = cv2.getRotationMatrix2D((1000.0, 750.0), ROLL_DEG, SCALE)
        roll[:, 2] += SHIFT_PX
        picture = cv2.warpAffine(picture, roll, (2000, 1500), borderMode=cv2.BORDER_REPLICATE)  # type: ignore[assignment]
        places = [line @ roll[:, :2].T + roll[:, 2] for line in places]
        ball *= SCALE
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 88 if again else 92])
    return Shot(data.tobytes(), *places, ball)


def _painted(picture: Image, ends: Array, ball_px: float) -> Image:
    """Return the picture with two balls: bright to the upper left, dark at the border."""
    fine, painted = 16, picture.copy()
    for x, y in ends:
        size = int(np.ceil(1.5 * ball_px))
        left, top = round(x) - size, round(y) - size
        grid = (np.arange((2 * size + 1) * fine) + 0.5) / fine - 0.5
        dx, dy = grid[None] + left - x, grid[:, None] + top - y
        away = np.hypot(dx, dy) / ball_px
        light = 215.0 - 160.0 * np.clip(away, 0.0, 1.0) ** 3 - 15.0 * (dx + dy) / ball_px
        shape = (2 * size + 1, fine, 2 * size + 1, fine)
        cover = (away < 1.0).astype(np.float64).reshape(shape).mean(axis=(1, 3))[..., None]
        ball = np.clip(light, 0, 255).reshape(shape).mean(axis=(1, 3))[..., None]
        part = painted[top : top + 2 * size + 1, left : left + 2 * size + 1]
        part[:] = np.round(cover * ball + (1.0 - cover) * part).astype(np.uint8)
    return painted
