"""What a picture of an elliptic spot on sloping ground is the sum of, and what is known of it.

Where the ground ends near the spot, as it does at the rim's own edge, what lies beyond a
straight border is another ground, and the spot is cut off there.  The parameters are the
centre's x and y (px), the logarithm of its size, two of its stretch, the logarithm of its
border's blur, the skin's rounding; with a border also its normal's turn and its distance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import erfc

from calibration.frames import Array

CAMERA_BLUR_PX = 0.8
"""Standard deviation of a phone picture's own blur."""
ROUND_SD, SIZE_SD, BLUR_SD = 0.6, 0.35, 0.4
BENT_SD = 0.06
"""Of a dot's radius over twice the radius to which the skin under it is rounded."""
CUT = 9
"""So many parameters has a spot with a border; without it two fewer."""


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """The places round a candidate, (P,), from its centre, px; their log light, (P, 3)."""

    x: Array
    y: Array
    light: Array
    radius_px: float
    weight: Array  # (P,)
    bend: float = 0.0
    """What is known of the skin's rounding, radius over twice its own, toward the far side."""

    def spot(self, p: Array) -> Array:
        """Return how much of each place the spot covers, 0 to 1, (P,)."""
        long, short, turn = axes_of(p)
        blur, c, s = np.exp(p[5]), np.cos(turn), np.sin(turn)
        dx, dy = self.x - p[0], self.y - p[1]
        u, v = (c * dx + s * dy) / long, (-s * dx + c * dy) / short
        v = bent(v, p[6] * np.sqrt(max((long / short) ** 2 - 1.0, 0.0)))
        rho = np.sqrt(u**2 + v**2) + 1e-9
        slope = np.sqrt((u / long) ** 2 + (v / short) ** 2) / rho + 1e-9
        return np.asarray(0.5 * erfc((rho - 1.0) / slope / (np.sqrt(2.0) * blur)))

    def beyond(self, p: Array) -> Array:
        """Return how much of each place lies beyond the border, 0 to 1, (P,)."""
        if len(p) < CUT:
            return np.zeros_like(self.x)
        across = self.x * np.cos(p[7]) + self.y * np.sin(p[7]) - p[8]
        return np.asarray(0.5 * erfc(-across / (np.sqrt(2.0) * np.exp(p[5]))))

    def basis(self, p: Array, *, spot: bool = True) -> Array:
        """Return what the light is a sum of, (P, K): the spot first."""
        other = self.beyond(p)
        ground = [1 - other, (1 - other) * self.x, (1 - other) * self.y]
        first = [self.spot(p) * (1 - other)] if spot else []
        return np.column_stack([*first, *ground, *([other] if len(p) == CUT else [])])

    def solved(self, p: Array, *, spot: bool = True) -> tuple[Array, Array]:
        """Return the sum's best factors, (K, 3), and what is left, weighted, (P, 3)."""
        basis = self.basis(p, spot=spot) * self.weight[:, None]
        light = self.light * self.weight[:, None]
        best, *_ = np.linalg.lstsq(basis, light, rcond=None)
        return np.asarray(best), light - basis @ best

    def known(self, p: Array) -> Array:
        """Return how far the parameters lie from what pens and phones give, in sd."""
        size = np.log(self.radius_px)
        reach = self.radius_px + 1.0
        return np.array(
            [
                p[0] / reach,
                p[1] / reach,
                (p[2] - size) / SIZE_SD,
                p[3] / ROUND_SD,
                p[4] / ROUND_SD,
                (p[5] - np.log(CAMERA_BLUR_PX)) / BLUR_SD,
                (p[6] - self.bend) / BENT_SD,
            ]
        )

    def residuals(self, p: Array, noise: float) -> Array:
        """Return what least squares makes small, (3 P + 7,)."""
        return np.concatenate([self.solved(p)[1].ravel() / noise, self.known(p)])


def axes_of(p: Array) -> tuple[float, float, float]:
    """Return the longer and shorter half axis, px, and the longer one's turn, rad."""
    stretch = float(np.hypot(p[3], p[4])) / 2
    size = float(p[2])
    return np.exp(size + stretch), np.exp(size - stretch), float(np.arctan2(p[4], p[3])) / 2


def bent(v: Array, bend: float) -> Array:
    """Return distances over rounded skin from distances in the picture, in radii.

    On skin that turns away, the far half of a round dot looks narrower than the near half;
    so a dot's centre is not the middle of its picture.
    """
    if abs(bend) < 1e-9:
        return v
    last = 0.4 / abs(bend)
    held = np.clip(v, -last, last)
    return np.asarray(held + bend * held**2 + (v - held) * np.where(v * bend < 0, 0.2, 1.8))
