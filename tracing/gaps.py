"""Where a line shows no edge: its gaps, and what is drawn and claimed there."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import label

from calibration.frames import Array
from tracing.search import Kind, rows_of, spread_mm
from tracing.strip import Guide

GAP_EVIDENCE: dict[Kind, float] = {"outer": 0.3, "inner": 0.08}
"""Below that evidence the picture shows no edge."""
LONE_MM, MOSTLY = 3.0, 0.6
"""A shorter stretch with an edge, and a line with more gaps than that, has none at all."""


def gaps_in(sure: Array, kind: Kind, row_mm: float) -> tuple[tuple[int, int], ...]:
    """Return the stretches [i, j] without an edge; a short edge between two is none either.

    Parameters
    ----------
    sure : (S,) array
        Evidence on the line, from 0 to 1.
    kind : ``"outer"`` or ``"inner"``
    row_mm : float
        Distance of its places.
    """
    missing = sure < GAP_EVIDENCE[kind]
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


def along_taps(
    way: Guide, guide: Guide, taps: Array, gaps: Sequence[tuple[int, int]], mm_per_px: float
) -> tuple[Array, Array]:
    """Return the line with its gaps drawn along the taps' curve, and its doubt there, mm."""
    line, doubt = way.points.copy(), np.zeros(len(way.points))
    marked = rows_of(guide, taps)
    spread = spread_mm(marked, len(guide.points), guide.step_px * mm_per_px)
    last = len(way.points) - 1
    for a, b in gaps:
        rows = rows_of(guide, way.points[[a, b]])
        rows[0], rows[1] = (
            (0 if a == 0 else rows[0]),
            (len(guide.points) - 1 if b == last else rows[1]),
        )
        ends = np.einsum("ij,ij->i", way.points[[a, b]] - guide.points[rows], guide.normals[rows])
        ends = np.where([a == 0, b == last], 0.0, ends)
        inner = [int(r) for r in np.unique(marked) if rows[0] < r < rows[1]]
        known = np.array([rows[0], *inner, rows[1]], dtype=np.float64)
        off = np.interp(
            np.arange(len(guide.points)), known, [ends[0], *([0.0] * len(inner)), ends[1]]
        )
        drawn = guide.moved(off)[rows[0] : rows[1] + 1]
        at = np.linspace(0, len(drawn) - 1, b - a + 1)
        for k in (0, 1):
            line[a : b + 1, k] = np.interp(at, np.arange(len(drawn)), drawn[:, k])
        doubt[a : b + 1] = np.interp(at, np.arange(len(drawn)), spread[rows[0] : rows[1] + 1])
    return line, doubt


def standard_u_mm(kind: Kind, sure: Array) -> Array:
    """Return the standard uncertainty across the line, mm, from the evidence on it, (S,).

    Fitted to the errors on rendered rims (``python -m benchmarks.accuracy --marking``): for the
    outer contour a good edge's own scatter, and the chance to have followed a strand of hair;
    for the inner crease mostly that its valley's wall is not quite where the fold ends.
    """
    if kind == "outer":
        return np.asarray(0.055 + 0.36 / (1.0 + np.exp((sure - 0.63) / 0.04)))
    return np.asarray(np.hypot(0.145, 0.3 * np.exp(-sure / 0.08)))
