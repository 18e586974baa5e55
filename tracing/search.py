"""The way of an edge near a few taps, and then the edge itself.

First a way through a wide strip along the taps' own curve is sought, where evidence of an edge
is cheap to pass and distance from the taps dear; then, in a narrow strip along that way, the
edge, averaged along it.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from calibration.frames import Array
from tracing import evidence
from tracing.light import Light
from tracing.route import cheapest
from tracing.strip import Guide, straightened, through

Kind = Literal["outer", "inner"]

TAP_MM = 0.5
"""Standard deviation of a tap."""
REACH_MM = 3.5
"""How far from the taps' curve the contour is looked for."""
BOW_MM = 0.35
"""How far a contour leaves the curve midway between taps 10 mm apart, standard deviation."""
HOLD_MM = 4.0
"""Along which length the contour's distance from the taps' curve counts once."""
NO_EDGE = 0.06
"""Evidence that plain skin and hair give."""
COARSE_BEND, FINE_BEND = 4.0, 3.0
REACH_COLUMNS = 1
NEAR_MM = 0.7
COARSE_VALLEY_MM, FINE_VALLEY_MM = 0.32, 0.2
EVEN_MM = 0.75
"""Over which length along the line its evidence is averaged."""
SKIN_ON_SKIN = 1.0
"""Where what lies behind is less unlike the rim's skin than this, an edge can't be told from
shading: it would lie up to some millimetres wrong."""


def outward(guide: Guide, taps: Array) -> Guide:
    """Return the guide with normals that point away from the side toward which it bends."""
    middle = guide.points[len(guide.points) // 2]
    inward = (taps[0] + taps[-1]) / 2 - middle
    turn = -1.0 if float(guide.normals[len(guide.points) // 2] @ inward) > 0 else 1.0
    return Guide(guide.points, turn * guide.normals, guide.step_px)


def wide_way(light: Light, guide: Guide, taps: Array, kind: Kind, mm_per_px: float) -> Guide:
    """Return the way of most evidence that the taps allow."""
    offsets, column = _columns(REACH_MM, 0.06, mm_per_px)
    strip = straightened(light, guide, offsets)
    row_mm, column_mm = guide.step_px * mm_per_px, column * mm_per_px
    shown = _evidence(strip, kind, column_mm, 0.5 / row_mm, COARSE_VALLEY_MM)
    if kind == "outer":
        shown = shown * evidence.skin_likeness(
            strip, column_mm, _skin(strip, guide, taps, offsets * mm_per_px)
        )
    shown = np.maximum(shown - NO_EDGE, 0.0) / (1.0 - NO_EDGE)
    cost = -2.0 * row_mm * np.log(0.05 + shown)
    rows = rows_of(guide, taps)
    spread = spread_mm(rows, len(guide.points), row_mm)
    away = (offsets * mm_per_px)[None] / spread[:, None]
    cost += 0.5 * away**2 * row_mm / HOLD_MM
    cost[rows] += 0.5 * away[rows] ** 2
    column_way = cheapest(cost, COARSE_BEND * (column / guide.step_px) ** 2 * row_mm, REACH_COLUMNS)
    off = gaussian_filter1d(offsets[column_way], 0.4 / row_mm)
    return _guide(guide.moved(off), guide, mm_per_px)


def on_edge(light: Light, way: Guide, kind: Kind, mm_per_px: float) -> tuple[Guide, Array]:
    """Return the way on the edge itself, and how sure the edge is there, (S,) from 0 to 1."""
    offsets, column = _columns(NEAR_MM + 0.7, 0.03, mm_per_px)
    strip = straightened(light, way, offsets)
    row_mm, column_mm = way.step_px * mm_per_px, column * mm_per_px
    if kind == "outer":
        shown = evidence.step_evidence(strip, column_mm, 1.0 / row_mm, 0.5)
    else:
        averaged = gaussian_filter1d(strip, 1.0 / row_mm, axis=0)
        shown = np.maximum(evidence.valley(averaged, column_mm, FINE_VALLEY_MM), 0.0)
    near = np.abs(offsets) * mm_per_px <= NEAR_MM
    shown, across = shown[:, near], offsets[near]
    full = np.maximum(np.quantile(shown, 0.95, axis=1, keepdims=True), 0.02)
    cost = -2.0 * row_mm * np.log(0.05 + shown / full)
    cost += 2.0 * (across * mm_per_px)[None] ** 2 * row_mm
    at = cheapest(cost, FINE_BEND * (column / way.step_px) ** 2 * row_mm)
    off = across[at] + _peak(shown, at) * column
    moved = way.moved(gaussian_filter1d(off, 0.6 / row_mm))
    new = _guide(moved, way, mm_per_px)
    return new, sureness(light, new, kind, mm_per_px)


def sureness(light: Light, way: Guide, kind: Kind, mm_per_px: float) -> Array:
    """Return the evidence of an edge on the way itself, averaged along it, (S,)."""
    offsets, column = _columns(2.0, 0.06, mm_per_px)
    strip = straightened(light, way, offsets)
    row_mm = way.step_px * mm_per_px
    shown = _evidence(strip, kind, column * mm_per_px, 0.5 / row_mm, COARSE_VALLEY_MM)
    near = np.abs(offsets) * mm_per_px < 0.16
    sure = gaussian_filter1d(shown[:, near].max(axis=1), EVEN_MM / row_mm)
    if kind == "outer":
        other = evidence.otherness(strip, offsets * mm_per_px, EVEN_MM / row_mm)
        sure = sure * np.minimum(other, 1.0)
        sure[other < SKIN_ON_SKIN] = 0.0
    return np.asarray(sure)


def rows_of(guide: Guide, taps: Array) -> NDArray[np.int64]:
    """Return the row of the guide nearest to each tap, (N,)."""
    away = np.hypot(*(guide.points[:, None] - taps[None]).transpose(2, 0, 1))
    return np.asarray(away.argmin(axis=0), dtype=np.int64)


def spread_mm(rows: NDArray[np.int64], count: int, row_mm: float) -> Array:
    """Return how far the contour may lie from the taps' curve, standard deviation, (S,) mm."""
    spread = np.full(count, TAP_MM)
    ordered = np.sort(rows)
    for a, b in pairwise(ordered):
        if b > a:
            share = (np.arange(a, b + 1) - a) / (b - a)
            bow = BOW_MM * ((b - a) * row_mm / 10.0) ** 2 * 4 * share * (1 - share)
            spread[a : b + 1] = np.hypot(TAP_MM, bow)
    return spread


def _skin(strip: Light, guide: Guide, taps: Array, offsets_mm: Array) -> Array:
    """Return the log light of the rim's skin at each row: inward of the taps, between them."""
    rim = (offsets_mm > -2.2) & (offsets_mm < -0.9)
    grey = np.median(strip.mean(axis=2)[:, rim], axis=1)
    rows = np.sort(rows_of(guide, taps))
    near = [float(np.median(grey[max(0, r - 8) : r + 9])) for r in rows]
    return np.asarray(np.interp(np.arange(len(strip)), rows, near))


def _guide(points: Array, like: Guide, mm_per_px: float) -> Guide:
    """Return a guide through points, its normals on the same side as those of ``like``."""
    knots = max(1, round(0.8 / mm_per_px / like.step_px))
    kept = points[::knots] if len(points) > 4 * knots else points
    if not np.array_equal(kept[-1], points[-1]):
        kept = np.concatenate([kept[:-1], points[-1:]])
    new = through(kept, like.step_px)
    side = float(new.normals[len(new.normals) // 2] @ like.normals[len(like.normals) // 2])
    return new if side > 0 else Guide(new.points, -new.normals, new.step_px)


def _peak(shown: Array, at: NDArray[np.int64]) -> Array:
    """Return where between columns a parabola through three has its top, (S,) from -0.5 to 0.5."""
    rows = np.arange(len(at))
    middle = np.clip(at, 1, shown.shape[1] - 2)
    a, b, c = (shown[rows, middle + k] for k in (-1, 0, 1))
    bend = a - 2 * b + c
    top = np.where(bend < -1e-12, 0.5 * (a - c) / np.where(bend < -1e-12, bend, 1.0), 0.0)
    return np.clip(top, -0.5, 0.5)


def _evidence(strip: Light, kind: Kind, column_mm: float, rows: float, valley_mm: float) -> Array:
    if kind == "outer":
        return evidence.step_evidence(strip, column_mm, rows)
    return evidence.valley_evidence(strip, column_mm, rows, valley_mm)


def _columns(reach_mm: float, column_mm: float, mm_per_px: float) -> tuple[Array, float]:
    """Return offsets across, px, and their step, px."""
    step = max(0.25, column_mm / mm_per_px)
    count = int(np.ceil(reach_mm / mm_per_px / step))
    return np.arange(-count, count + 1, dtype=np.float64) * step, step
