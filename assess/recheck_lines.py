"""A marked rim as a smooth line that another visit's marks are held against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import BSpline
from scipy.spatial import cKDTree

from calibration.frames import Array

LEAST_STEP_MM = 1.5
"""Vertices nearer to the one before are left out: a traced line's neighbours err together."""
FINE_MM, MARGIN_MM = 0.1, 0.5
STEP_MM = 1e-3
PIECE_MM = 8.0
"""About how long each piece of the spline is: a rim bends no faster."""
LEAST_VERTICES = 5


@dataclass(frozen=True, slots=True, eq=False)
class Feet:
    """Where points lie beside a line.

    ``gap`` (N,) mm, across it; ``normal`` (N, 2); ``along_mm`` (N,) of the foot; ``vertex`` (N, V)
    how much each vertex of the line moves the foot, and ``turns`` (N, V) turns the line there
    (rad for each mm across it); ``beside`` (N,) whether the foot lies within.
    """

    gap: Array
    normal: Array
    along_mm: Array
    vertex: Array
    turns: Array
    beside: NDArray[np.bool_]


class SmoothLine:
    """A cubic spline of few pieces near vertices, (V, 2) mm, by least squares.

    One through all of them would carry the hand's jitter into its slopes, and a rim that slides
    along it would seem to catch on that.
    """

    def __init__(self, vertices: Array) -> None:
        at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(vertices, axis=0).T))])
        pieces = int(np.clip(at[-1] / PIECE_MM, 1, max(len(at) - 4, 1)))
        inner = np.quantile(at, np.linspace(0.0, 1.0, pieces + 1)[1:-1])
        self.length_mm = float(at[-1])
        self._knots = np.concatenate([np.zeros(4), inner, np.full(4, at[-1])])
        self._solve = np.linalg.pinv(self._basis(at))
        self.spline = BSpline(self._knots, self._solve @ vertices, 3)
        self.slope = self.spline.derivative()
        self._fine = np.arange(0.0, at[-1], FINE_MM)
        self._tree = cKDTree(self.spline(self._fine))

    def _basis(self, s: Array) -> Array:
        return np.asarray(BSpline.design_matrix(s, self._knots, 3).toarray())

    def feet(self, points: Array, *, by_vertices: bool = True) -> Feet:
        """Return how points, (N, 2) mm, lie beside the line, with its vertices' parts if asked."""
        _, index = self._tree.query(points)
        s = self._fine[index]
        for _ in range(2):  # Newton to the foot itself
            off, way = points - self.spline(s), self.slope(s)
            s = np.clip(s + np.sum(off * way, axis=1) / np.sum(way**2, axis=1), 0, self.length_mm)
        way = self.slope(s)
        speed = np.linalg.norm(way, axis=1, keepdims=True)
        way = way / speed
        normal = np.column_stack([way[:, 1], -way[:, 0]])
        gap = np.sum((points - self.spline(s)) * normal, axis=1)
        beside = (s > MARGIN_MM) & (s < self.length_mm - MARGIN_MM)
        if not by_vertices:
            none = np.zeros((len(s), 0))
            return Feet(gap, normal, s, none, none, np.asarray(beside))
        step = (self._basis(np.minimum(s + STEP_MM, self.length_mm)) - self._basis(s)) / STEP_MM
        turns = step @ self._solve / speed
        return Feet(gap, normal, s, self._basis(s) @ self._solve, turns, np.asarray(beside))


def thinned(vertices: Array, least: float) -> Array:
    """Return which vertices, (N, 2), to keep so that neighbours are ``least`` apart, (K,) index."""
    kept = [0]
    for i in range(1, len(vertices)):
        if float(np.hypot(*(vertices[i] - vertices[kept[-1]]))) >= least:
            kept.append(i)
    return np.array(kept, dtype=np.float64)
