"""Where a line shows no edge: its gaps, and what is drawn and claimed there."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline
from scipy.ndimage import label

from calibration.frames import Array
from tracing.search import Kind, Way
from tracing.strip import Guide
from tracing.taps import TAP_MM, rows_of

Curve = Callable[[Array], Array]

LONE_MM, MOSTLY = 3.0, 0.6
"""A shorter stretch with an edge, and a line with more gaps than that, has none at all."""
BRIDGE_ROW_MM = 1.0
BEND_PER_MM = 0.007
"""By how much the slope of a contour against the taps' curve wanders: variance per mm."""
KNOWN_MM = 0.1
"""Standard deviation to which a bridge keeps to the edge beside it."""
BROAD_MM = 0.3
"""Where the belief is broader than that, several ways were as good: no edge is seen."""
OUTER_U, INNER_U = (0.02, 1.7), (0.105, 0.72)
"""Standard uncertainty: by itself, mm, and times the belief's."""


def gaps_in(missing: NDArray[np.bool_], row_mm: float) -> tuple[tuple[int, int], ...]:
    """Return the stretches [i, j] without an edge; a short edge between two is none either.

    Parameters
    ----------
    missing : (S,) array of bool
        Where on the line no edge is seen.
    row_mm : float
        Distance of its places.
    """
    missing = missing.copy()
    lone = round(LONE_MM / row_mm)
    found, count = label(~missing)
    for k in range(1, count + 1):
        rows = np.flatnonzero(found == k)
        if len(rows) < lone:
            missing[rows] = True
    if missing.mean() > MOSTLY:
        missing[:] = True
    runs, count = label(missing)
    ends = [np.flatnonzero(runs == k)[[0, -1]] for k in range(1, count + 1)]
    return tuple((int(a), int(b)) for a, b in ends)


def bridged(
    way: Guide, guide: Guide, taps: Array, gaps: Sequence[tuple[int, int]], mm_per_px: float
) -> tuple[Array, Array]:
    """Return the line with its gaps drawn from the taps and the edge beside, and its doubt, mm.

    Parameters
    ----------
    way : Guide
        On the edge where there is one.
    guide : Guide
        The taps' own curve.
    taps : (N, 2) array, px
    gaps : stretches [i, j] of the way
    mm_per_px : float
    """
    line, doubt = way.points.copy(), np.zeros(len(way.points))
    rows = rows_of(guide, way.points)
    last = len(guide.points) - 1
    rows[0], rows[-1] = 0, last
    away = np.einsum("ij,ij->i", way.points - guide.points[rows], guide.normals[rows])
    seen = np.ones(len(rows), dtype=bool)
    for a, b in gaps:
        seen[a : b + 1] = False
    along = np.arange(last + 1, dtype=np.float64) * guide.step_px * mm_per_px
    off_mm, spread = _bent(
        along[rows[seen]], away[seen] * mm_per_px, along[rows_of(guide, taps)], along[-1]
    )
    drawn = guide.moved(off_mm(along) / mm_per_px)
    for a, b in gaps:
        at = np.linspace(along[rows[a]], along[rows[b]], b - a + 1)
        for k in (0, 1):
            line[a : b + 1, k] = np.interp(at, along, drawn[:, k])
        doubt[a : b + 1] = spread(at)
    return line, doubt


def _bent(known: Array, away_mm: Array, taps: Array, length_mm: float) -> tuple[Curve, Curve]:
    """Return the offset from the taps' curve along it, and its standard deviation, mm.

    It keeps to the offsets known and to the taps and bends no more than it must.

    Parameters
    ----------
    known, away_mm : (K,) arrays
        Where along the edge is seen, and how far out it lies there.
    taps : (N,) array
        Where along they are.
    length_mm : float
    """
    count = max(5, round(length_mm / BRIDGE_ROW_MM) + 1)
    step = length_mm / (count - 1)
    cell = np.round(known / step).astype(np.int64)
    seen, sums = np.bincount(cell, minlength=count), np.bincount(cell, away_mm, count)
    weight = (seen > 0) / KNOWN_MM**2
    pulled = weight * sums / np.maximum(seen, 1)
    for tap in np.round(taps / step).astype(np.int64):
        weight[tap] += 1.0 / TAP_MM**2
    bend = np.diff(np.eye(count), n=2, axis=0)
    stiff = bend.T @ bend / (BEND_PER_MM * step**3)
    spread = np.linalg.inv(stiff + np.diag(weight))
    at = np.arange(count) * step
    sd = np.sqrt(np.diag(spread))
    return make_interp_spline(at, spread @ pulled, k=3), lambda x: np.interp(x, at, sd)


def standard_u_mm(way: Way, kind: Kind) -> Array:
    """Return the standard uncertainty across the line, mm, from what is believed of it.

    Fitted to the errors on rendered rims (not those of ``benchmarks/marking.md``): evidence
    along an edge repeats itself, so the outer contour's belief is too sure by a factor; the
    inner crease is mostly not quite where its valley's wall begins.
    """
    if kind == "outer":
        return np.hypot(OUTER_U[0], OUTER_U[1] * way.sd_mm)
    return np.hypot(INNER_U[0], INNER_U[1] * way.wide_sd_mm)
