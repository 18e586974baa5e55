"""A proposed contour -> the few points that are kept of it, so that it stays editable."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.interpolate import make_interp_spline
from scipy.ndimage import gaussian_filter1d

from calibration.frames import Array
from tracing.strip import chords

OFF_MM = 0.05
"""How far the points' curve may run beside the line ..."""
NEAR_MM, FAR_MM, MOST = 2.0, 4.0, 24
"""... unless they came closer together than the first, or were too many to be edited; they are
about the second apart at most."""
BEND_MM = 1.0
"""Over which a line's bend is looked at."""


def seen_stretches(count: int, gaps: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Return the stretches [i, j] of a line of ``count`` places that are no gap."""
    seen = np.ones(count + 2, dtype=bool)
    seen[[0, -1]] = False
    for a, b in gaps:
        seen[a + 1 : b + 2] = False
    turns = np.flatnonzero(np.diff(seen.astype(int)))
    return tuple((int(a), int(b) - 1) for a, b in turns.reshape(-1, 2))


def kept_points(
    line: Array, gaps: Sequence[tuple[int, int]], taps: Array, mm_per_px: float
) -> Array:
    """Return the points that stand for a line once it is accepted, (K, 2) px, in its order.

    Where the picture shows an edge they are the line's own; in a gap only the taps count.

    Parameters
    ----------
    line : (N, 2) array, px
    gaps : stretches [i, j] of the line without an edge
    taps : (M, 2) array, px
        By hand, from which the line was proposed.
    mm_per_px : float
    """
    parts = [(a, thinned(line[a : b + 1], mm_per_px)) for a, b in seen_stretches(len(line), gaps)]
    nearest = np.argmin(np.linalg.norm(taps[:, None] - line[None], axis=-1), axis=1)
    for row, tap in zip(nearest, taps, strict=True):
        if any(a <= row <= b for a, b in gaps):
            parts.append((int(row), tap[None]))
    return np.concatenate([points for _, points in sorted(parts, key=lambda part: part[0])])


def thinned(line: Array, mm_per_px: float) -> Array:
    """Return few points whose smooth curve follows a line, (K, 2) px; closer where it bends.

    The curve is the cubic spline through the points, as a contour is measured.  As many points
    are taken as keep it within ``OFF_MM`` of the line, from one every 4 mm to one every 2 mm:
    beyond that they would follow the line's roughness.  Of a smooth curve they are the best
    in the sense of least squares.
    """
    arc = chords(line)
    length_mm = arc[-1] * mm_per_px
    if len(line) < 4 or length_mm < FAR_MM / 2:
        return line[[0, -1]] if len(line) > 1 else line
    most = min(int(np.ceil(length_mm / NEAR_MM)) + 1, MOST)
    least = min(int(np.ceil(length_mm / FAR_MM)) + 1, most)
    for count in range(least, most + 1):
        at = _places(line, arc, count, BEND_MM / mm_per_px)
        spline = make_interp_spline(at, np.eye(count), k=min(3, count - 1))(arc)
        points = np.linalg.solve(spline.T @ spline, spline.T @ line)
        if np.hypot(*(spline @ points - line).T).max() * mm_per_px <= OFF_MM:
            break
    return np.asarray(points)


def _places(line: Array, arc: Array, count: int, reach_px: float) -> Array:
    """Return arc positions, (count,), up to twice as close where the line bends most."""
    rows = reach_px * (len(line) - 1) / arc[-1]
    calm = gaussian_filter1d(line, rows, axis=0, mode="nearest")
    dx, dy = np.gradient(calm, axis=0).T
    turn = np.gradient(np.unwrap(np.arctan2(dy, dx)))
    bend = np.abs(gaussian_filter1d(turn, rows, mode="nearest"))
    dense = np.sqrt(np.clip(bend, bend.mean() / 2, 2 * bend.mean()) + 1e-12)
    filled = np.concatenate([[0.0], np.cumsum((dense[1:] + dense[:-1]) / 2 * np.diff(arc))])
    return np.asarray(np.interp(np.linspace(0.0, filled[-1], count), filled, arc))
