"""The ear's lines in the plane: helix, antihelix with its crura, by control points.

A left ear of 61 x 33 mm seen from its side: x toward the back of the head, y down, millimetres.
"""

from __future__ import annotations

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.spatial import cKDTree

from calibration.frames import Array

LENGTH_MM, WIDTH_MM = 61.0, 33.0

HELIX = [
    (-4.5, 1.0),  # the crus begins in the concha
    (-9.5, -3.5),
    (-12.6, -9.5),
    (-12.8, -16.5),
    (-9.6, -23.0),
    (-3.2, -27.0),
    (4.2, -26.6),
    (10.4, -22.2),
    (13.9, -14.6),
    (14.4, -5.4),
    (12.6, 3.8),
    (9.0, 12.4),
    (4.6, 19.6),
    (1.0, 24.4),
]
UPPER_RIM = (0.27, 0.62)
"""Where along the helix's line the usable upper rim begins and ends."""

ANTIHELIX = [(-1.5, 15.5), (4.2, 10.2), (6.6, 3.0), (6.2, -4.2), (3.6, -10.0)]
SUPERIOR_CRUS = [(3.6, -10.0), (3.2, -13.0), (2.4, -16.0)]
INFERIOR_CRUS = [(3.6, -10.0), (-1.0, -12.2), (-6.0, -12.4), (-10.0, -11.0)]

OUTLINE_END = [(-3.0, 29.3), (-8.5, 28.6), (-12.5, 22.5), (-14.0, 12.0), (-14.5, 0.0)]
"""From the helix's tail round the lobe and up the front, closing the ear's outline."""


class Line:
    """A smooth line through control points, sampled densely, with nearest-place look-up."""

    def __init__(self, points: list[tuple[float, float]], scale: tuple[float, float]) -> None:
        control = np.asarray(points, dtype=np.float64) * np.asarray(scale)
        chord = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(control, axis=0).T))])
        self.spline = CubicSpline(chord / chord[-1], control)
        self.at = np.linspace(0.0, 1.0, 1500)
        self.points: Array = np.asarray(self.spline(self.at))
        self._tree = cKDTree(self.points)

    def place(self, t: float) -> tuple[Array, Array]:
        """Return the point and the unit normal to the left of the run, (2,) each."""
        tangent = np.asarray(self.spline(t, 1))
        tangent = tangent / np.linalg.norm(tangent)
        return np.asarray(self.spline(t)), np.array([tangent[1], -tangent[0]])

    def nearest(self, points: Array) -> tuple[Array, Array, Array]:
        """Return (distance, parameter, signed offset along the left normal) for (N, 2)."""
        distance, index = self._tree.query(points)
        slope = np.asarray(self.spline(self.at[index], 1))
        slope = slope / np.linalg.norm(slope, axis=1, keepdims=True)
        gap = points - self.points[index]
        offset = gap[:, 0] * slope[:, 1] - gap[:, 1] * slope[:, 0]
        return np.asarray(distance), self.at[index], np.asarray(offset)
