"""Rendered photos of a card: every pixel is the mean of samples over its own area.

The camera here is written down on its own, by OpenCV's published model, so the program's
camera is never checked against itself.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image as Pillow

from calibration.card import FRAME, Card
from calibration.draw_card import card_png

DPI = 600


@cache
def drawn(card: Card) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the card's grey and its cover (0 to 1), each (H, W)."""
    rgba = np.asarray(Pillow.open(io.BytesIO(card_png(card, DPI))), dtype=np.float32)
    return rgba[..., 0].copy(), rgba[..., 3] / 255.0


@dataclass(frozen=True)
class Shot:
    """How a card is photographed; tilt about the card's own axes, aim at its middle."""

    card: Card = FRAME
    size: tuple[int, int] = (1600, 1200)
    focal: float = 1280.0
    k1: float = 0.0
    distance_mm: float = 250.0
    tilt_deg: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 0.0
    aim_mm: tuple[float, float] = (0.0, 0.0)
    blur_px: float = 0.7
    noise: float = 2.0
    contrast: tuple[float, float] = (30.0, 220.0)
    ground: float = 150.0
    samples: int = 3
    seed: int = 1
    hide: tuple[tuple[float, float, float, float], ...] = field(default=())  # mm, card frame

    @property
    def matrix(self) -> NDArray[np.float64]:
        cx, cy = (self.size[0] - 1) / 2, (self.size[1] - 1) / 2
        return np.array([[self.focal, 0, cx], [0, self.focal, cy], [0, 0, 1.0]])

    @property
    def dist(self) -> NDArray[np.float64]:
        return np.array([self.k1, 0, 0, 0, 0])

    @property
    def rotation(self) -> NDArray[np.float64]:
        x, y = (np.array(v) * np.deg2rad(a) for v, a in zip(np.eye(3), self.tilt_deg, strict=False))
        z = np.array([0, 0, np.deg2rad(self.turn_deg)])
        return np.asarray(cv2.Rodrigues(z)[0] @ cv2.Rodrigues(x)[0] @ cv2.Rodrigues(y)[0])

    @property
    def tvec(self) -> NDArray[np.float64]:
        middle = np.array([*(np.array(self.card.body_mm) / 2 + self.aim_mm), 0.0])
        return np.array([0, 0, self.distance_mm]) - self.rotation @ middle

    def seen(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return where card points, (N, 2) or (N, 3) mm, are seen, px."""
        places = np.zeros((len(points_mm), 3))
        places[:, : points_mm.shape[1]] = points_mm
        rvec = cv2.Rodrigues(self.rotation)[0]
        out, _ = cv2.projectPoints(places, rvec, self.tvec, self.matrix, self.dist)
        return np.asarray(out, dtype=np.float64).reshape(-1, 2)

    def photo(self) -> NDArray[np.uint8]:
        """Return the photo, (H, W, 3)."""
        n = self.samples
        offsets = (np.arange(n) + 0.5) / n - 0.5
        total = sum(self._sample(dx, dy) for dy in offsets for dx in offsets) / n**2
        grey = total if self.blur_px == 0 else cv2.GaussianBlur(total, (0, 0), self.blur_px)
        rng = np.random.default_rng(self.seed)
        noisy = grey + rng.normal(0, self.noise, grey.shape).astype(np.float32)
        whole = np.clip(np.round(noisy), 0, 255).astype(np.uint8)
        return np.repeat(whole[..., None], 3, axis=2)

    def _sample(self, dx: float, dy: float) -> NDArray[np.float32]:
        width, height = self.size
        k, step = self.matrix, 8
        # Ideal coordinates on a grid, in between linearly: wrong by under 0.001 px.
        gx = np.arange(0, width + step, step) + dx
        gy = np.arange(0, height + step, step) + dy
        xs, ys = np.meshgrid((gx - k[0, 2]) / self.focal, (gy - k[1, 2]) / self.focal)
        x, y = xs.copy(), ys.copy()
        for _ in range(30):
            radial = 1 + self.k1 * (x * x + y * y)
            x, y = xs / radial, ys / radial
        rays = np.stack([x, y, np.ones_like(x)], axis=-1) @ self.rotation
        centre = -self.rotation.T @ self.tvec
        reach = -centre[2] / rays[..., 2]
        # A picture's pixel (i, j) covers i to i + 1 of the drawing's units.
        at = (centre[:2] + reach[..., None] * rays[..., :2]) * DPI / 25.4 - 0.5
        big = [_fill(at[..., i], step)[:height, :width].astype(np.float32) for i in (0, 1)]
        grey, cover = drawn(self.card)
        low, high = self.contrast
        tone = low + cv2.remap(grey, *big, cv2.INTER_LINEAR, borderValue=255) * (high - low) / 255
        alpha = cv2.remap(cover, *big, cv2.INTER_LINEAR, borderValue=0)
        for x0, y0, x1, y1 in self.hide:
            mx, my = ((big[i] + 0.5) * 25.4 / DPI for i in (0, 1))
            alpha[(mx >= x0) & (mx <= x1) & (my >= y0) & (my <= y1)] = 0
        return np.asarray(alpha * tone + (1 - alpha) * self.ground, dtype=np.float32)


def _fill(grid: NDArray[np.float64], step: int) -> NDArray[np.float64]:
    share = np.arange(step) / step
    rows = grid[:-1, None] * (1 - share)[:, None] + grid[1:, None] * share[:, None]
    rows = rows.reshape(-1, grid.shape[1])
    full = rows[:, :-1, None] * (1 - share) + rows[:, 1:, None] * share
    return np.asarray(full.reshape(len(rows), -1))


@pytest.fixture(scope="session")
def shot() -> Callable[..., Shot]:
    """Return the maker of photographs of a card."""

    def make(**how: Any) -> Shot:
        return Shot(**how)

    return make
