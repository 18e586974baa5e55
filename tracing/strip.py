"""A picture straightened along a line: one row for each place on it, across its normals."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline, make_interp_spline
from scipy.ndimage import gaussian_filter1d

from calibration.frames import Array
from tracing.light import Light

SHARED = 0.4
"""Standard deviation of what is averaged for one of some rows, as a share of their distance."""


@dataclass(frozen=True, slots=True, eq=False)
class Guide:
    """Places evenly along a line, (S, 2) px, with unit normals to the left of its run."""

    points: Array
    normals: Array
    step_px: float

    def moved(self, offset_px: Array) -> Array:
        """Return the places moved along their normals by ``offset_px``, (S,)."""
        return np.asarray(self.points + offset_px[:, None] * self.normals)

    def turned(self) -> Guide:
        """Return the guide with its normals on the other side."""
        return Guide(self.points, -self.normals, self.step_px)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Some rows of a strip, ``at`` (R,), evenly ``apart_mm`` along it."""

    at: NDArray[np.int64]
    apart_mm: float
    row_mm: float

    @classmethod
    def every(cls, apart_mm: float, count: int, row_mm: float) -> Rows:
        """Return rows about ``apart_mm`` apart, from the first of ``count`` to the last."""
        kept = int(np.clip(round((count - 1) * row_mm / apart_mm) + 1, 4, count))
        at = np.round(np.linspace(0, count - 1, kept)).astype(np.int64)
        return cls(at, (count - 1) * row_mm / (kept - 1), row_mm)

    def averaged(self, values: Array) -> Array:
        """Return values of a strip, (S, ...), averaged along it, at these rows, (R, ...)."""
        wide = SHARED * self.apart_mm / self.row_mm
        return np.asarray(gaussian_filter1d(values, wide, axis=0)[self.at])


def chords(points: Array) -> Array:
    """Return the length along a polyline, (N, 2) px, at each of its points, (N,) px."""
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def through(points: Array, step_px: float) -> Guide:
    """Return a smooth guide through points in order.

    Parameters
    ----------
    points : (N, 2) array, px, N at least 2, no two neighbours the same
    step_px : float
        About how far apart its places are.
    """
    along = chords(points)
    degree = min(3, len(points) - 1)
    if degree == 3:
        curve = CubicSpline(along, points)
    else:
        curve = make_interp_spline(along, points, k=degree)
    dense = np.linspace(0.0, along[-1], max(50, 4 * int(along[-1] / step_px)))
    run = chords(np.asarray(curve(dense)))
    count = max(8, round(run[-1] / step_px) + 1)
    at = np.interp(np.linspace(0.0, run[-1], count), run, dense)
    tangent = np.asarray(curve.derivative()(at))
    tangent = tangent / np.maximum(np.hypot(*tangent.T), 1e-12)[:, None]
    normals = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    return Guide(np.asarray(curve(at)), normals, float(run[-1] / (count - 1)))


def straightened(light: Light, guide: Guide, offsets_px: Array) -> Light:
    """Return the picture along the guide's normals, (S, O, 3).

    Parameters
    ----------
    light : (H, W, 3) array
    guide : Guide
    offsets_px : (O,) array
        Along the normals.
    """
    at = guide.points[:, None] + offsets_px[None, :, None] * guide.normals[:, None]
    x, y = at[..., 0].astype(np.float32), at[..., 1].astype(np.float32)
    return np.asarray(cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))
