"""What a picture of a dot half round a rim's edge is the sum of.

Skin turns away to the edge as on a cylinder: a way ``s`` over the skin before the edge is seen
``s^2 / 2 R`` inside it.  A round dot is then a sliver along the edge, and what is seen across is
skin, ink, skin again if the dot ends before the edge, and what lies beyond; each in light itself,
not its logarithm, for the camera's blur mixes light.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import erfc

from calibration.frames import Array

ROUND_MM = 2.7
"""Radius to which a rim's edge is rounded."""
INNER_MM = 0.3
COUNT = 8
LIKELY = np.array([0.0, 0.0, 0.0, np.log(0.9), 0.0, np.log(0.47), 0.35, 0.0])
SPREAD = np.array([0.2, 0.25, 0.06, 0.25, 0.35, 0.3, 0.25, 0.16])
"""The edge's place (mm), turn (rad) and bend (1/mm); the logarithm of the blur (px); the dot's
place along the edge (mm), the logarithm of its radius (mm), its way before the edge (mm),
and the edge's slope toward the camera: likely values and their sd."""
LOW = np.array([-0.6, -0.6, -0.2, np.log(0.45), -0.8, np.log(0.2), 0.0, -0.8])
HIGH = np.array([0.6, 0.6, 0.2, np.log(2.0), 0.8, np.log(0.9), 1.6, 0.8])


@dataclass(frozen=True, eq=False)
class Strip:
    """Places beside an edge: along it and outward, mm, (P,) each; their light, (P, 3).

    ``centre``, (2,) px, is its middle, ``out``, (2,), its outward normal.
    """

    along: Array
    outward: Array
    light: Array
    mm_per_px: float
    centre: Array
    out: Array

    @cached_property
    def skin(self) -> Array:
        """Return the light of most of the inner places, (3,)."""
        return np.maximum(np.median(self.light[self.outward < -INNER_MM], axis=0), 0.01)

    @cached_property
    def shown(self) -> Array:
        """Return the light over the skin's, (P, 3)."""
        return np.asarray(self.light / self.skin)

    def parts(self, p: Array) -> tuple[Array, Array, Array]:
        """Return how much of each place is ink, skin and beyond; (..., 8) -> (..., P) each."""
        blur = np.exp(p[..., 3, None]) * self.mm_per_px
        along = self.along - p[..., 4, None]
        edge = p[..., 0, None] + p[..., 1, None] * self.along
        edge = edge - 0.5 * p[..., 2, None] * self.along**2
        radius, way = np.exp(p[..., 5, None]), p[..., 6, None]
        near, far = np.zeros_like(edge), np.zeros_like(edge)
        for shift, share in ((-1.2, 0.27), (0.0, 0.46), (1.2, 0.27)):
            aside = along + shift * blur
            half = np.sqrt(np.maximum(radius**2 - aside**2, 0.0))
            middle = way - p[..., 7, None] * aside
            near = near + share * np.where(half > 0.0, np.maximum(middle + half, 0.0) ** 2, 0.0)
            far = far + share * np.where(half > 0.0, np.maximum(middle - half, 0.0) ** 2, 0.0)
        before = _past(self.outward - edge + near / (2 * ROUND_MM), blur)
        after = _past(self.outward - edge + far / (2 * ROUND_MM), blur)
        beyond = _past(self.outward - edge, blur)
        ink = np.maximum(before - after, 0.0)
        return ink, 1.0 - ink - beyond, beyond

    def basis(self, p: Array, *, dot: bool = True) -> Array:
        """Return what the light is a sum of, (P, K): ink, skin with slopes, beyond with one."""
        ink, skin, beyond = self.parts(p)
        if not dot:
            ink, skin = 0.0 * ink, skin + ink
        return np.column_stack(
            [ink, skin, skin * self.along, skin * self.outward, beyond, beyond * self.along]
        )


def _past(way: Array, blur: Array) -> Array:
    return np.asarray(0.5 * erfc(-way / (np.sqrt(2.0) * blur)))


def centre_of(p: Array) -> Array:
    """Return where the dot's centre is seen, (2,) mm along the edge and outward."""
    edge = p[0] + p[1] * p[4] - 0.5 * p[2] * p[4] ** 2
    return np.array([p[4], edge - p[6] ** 2 / (2 * ROUND_MM)])


def depth_mm(p: Array) -> float:
    """Return how wide the sliver is seen across its middle, mm."""
    near, far = p[6] + np.exp(p[5]), max(p[6] - np.exp(p[5]), 0.0)
    return float((near**2 - far**2) / (2 * ROUND_MM))
