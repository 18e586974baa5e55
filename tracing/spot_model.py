"""What a picture of an elliptic spot on sloping ground is the sum of, and what is known of it.

The parameters are the centre's x and y (px), the logarithm of its size, two of its stretch, the
logarithm of its border's blur, the skin's rounding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import erfc

from calibration.frames import Array

CAMERA_BLUR_PX = 0.9
"""Standard deviation of a phone picture's own blur."""
ROUND_SD, SIZE_SD, BLUR_SD = 0.6, 0.3, 0.25
MOST_BLUR = (2.2, 0.3)
"""Of a dot's border: px, or mm if that is more."""
LIKELY_CHANGE, CHANGE_SD, SLOPE_SD = -0.9, 0.8, 0.1
"""What an ink takes of the logarithm of light: without it a spot that is all border has none.
It slopes a little over a dot's radius, for glare lies on ink and skin alike."""
LOW = np.array([-np.inf, -np.inf, -1.5, -2.5, -2.5, -1.0, -0.5])
HIGH = np.array([np.inf, np.inf, 5.0, 2.5, 2.5, 1.5, 0.5])
COUNT = 7


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """The places round a candidate, (P,), from its centre, px; their log light, (P, 3)."""

    x: Array
    y: Array
    light: Array
    radius_px: float

    @property
    def away(self) -> Array:
        """Return the distances from the middle, (P,) px."""
        return np.hypot(self.x, self.y)

    def cover(self, p: Array) -> Array:
        """Return how much of each place the spot covers, 0 to 1; (..., 7) -> (..., P)."""
        long, short, turn = (v[..., None] for v in axes_of(p))
        blur, c, s = np.exp(p[..., 5, None]), np.cos(turn), np.sin(turn)
        dx, dy = self.x - p[..., 0, None], self.y - p[..., 1, None]
        u, v = (c * dx + s * dy) / long, (-s * dx + c * dy) / short
        v = bent(v, p[..., 6, None] * np.sqrt(np.maximum((long / short) ** 2 - 1.0, 0.0)))
        rho = np.sqrt(u**2 + v**2) + 1e-9
        slope = np.sqrt((u / long) ** 2 + (v / short) ** 2) / rho + 1e-9
        return np.asarray(0.5 * erfc((rho - 1.0) / slope / (np.sqrt(2.0) * blur)))

    def basis(self, cover: Array) -> Array:
        """Return what the light is a sum of, (P, 6): the spot and its slopes, then the ground."""
        x, y = self.x / self.radius_px, self.y / self.radius_px
        return np.column_stack([cover, cover * x, cover * y, np.ones_like(x), x, y])

    def rest(self, cover: Array, factors: Array) -> Array:
        """Return what the factors, (6, 3), leave of the light, (P, 3)."""
        return np.asarray(self.light - self.basis(cover) @ factors)


def axes_of(p: Array) -> tuple[Array, Array, Array]:
    """Return the longer and shorter half axis, px, and the longer one's turn, rad, each (...)."""
    stretch, size = np.hypot(p[..., 3], p[..., 4]) / 2, p[..., 2]
    turn = np.arctan2(p[..., 4], p[..., 3]) / 2
    return np.exp(size + stretch), np.exp(size - stretch), np.asarray(turn)


def bent(v: Array, bend: Array) -> Array:
    """Return distances over rounded skin from distances in the picture, in radii.

    On skin that turns away, the far half of a round dot looks narrower than the near half;
    so a dot's centre is not the middle of its picture.
    """
    last = 0.4 / np.maximum(np.abs(bend), 1e-9)
    held = np.clip(v, -last, last)
    return np.asarray(held + bend * held**2 + (v - held) * np.where(v * bend < 0, 0.2, 1.8))


@dataclass(frozen=True, slots=True, eq=False)
class Known:
    """What pens and phones give: the parameters' likely values and their sd, (7,) each."""

    mean: Array
    sd: Array

    @classmethod
    def of(cls, radius_px: float) -> Known:
        """Return what is known of a spot of about that radius."""
        reach = radius_px + 1.0
        mean = np.array([0.0, 0.0, np.log(radius_px), 0.0, 0.0, np.log(CAMERA_BLUR_PX), 0.0])
        sd = np.array([reach, reach, SIZE_SD, ROUND_SD, ROUND_SD, BLUR_SD, 1e-3])
        return cls(mean, sd)

    def rounded(self, bend: float, sd: float) -> Known:
        """Return the same with the skin's rounding known."""
        return Known(np.array([*self.mean[:6], bend]), np.array([*self.sd[:6], sd]))

    def surprise(self, p: Array) -> float:
        """Return the sum of squares of how far the parameters lie from it, in sd."""
        return float((((p - self.mean) / self.sd) ** 2).sum())
