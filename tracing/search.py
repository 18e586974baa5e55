"""The way of an edge near a few taps, and then the edge itself.

First a way through a wide strip along the taps' own curve is sought, where both the picture and
the taps are believed; then, in a narrow strip along that way, the edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline
from scipy.special import ndtr

from calibration.frames import Array
from tracing import crease, outline
from tracing.light import Light
from tracing.route import Belief, Wander, believed
from tracing.strip import Guide, Rows, straightened, through
from tracing.taps import TAP_MM, rows_of, spread_mm

Kind = Literal["outer", "inner"]

REACH_MM = 3.5
"""How far from the taps' curve the contour is looked for."""
HOLD_MM = 10.0
"""Along which length the contour's distance from the taps' curve counts once."""
WIDE_ROOM_MM, WIDE_COLUMN_MM, WIDE_PLACE_MM, WIDE_ROW_MM = 1.5, 0.1, 0.05, 1.0
"""What is looked at beyond, and how densely: columns, places of the line, rows."""
NEAR_MM, ROOM_MM, COLUMN_MM, PLACE_MM, PLACE_ROW_MM = 0.8, 1.0, 0.04, 0.02, 0.5
"""The same for the edge itself."""
WIDE, NARROW = Wander(0.002, 0.3, 0.6), Wander(0.001, 0.1, 0.16)
TIMES: dict[Kind, int] = {"outer": 2, "inner": 1}
"""How often the edge is looked for along the way found before."""
PULL_MM, PULL_ALONG_MM = 0.3, 3.0
"""How far the edge may leave that way, standard deviation, once in which length."""
JUDGED_MM, JUDGED_COLUMN_MM = 2.4, 0.06
ALONG_MM: dict[Kind, float] = {"outer": 1.0, "inner": 0.75}
"""Over which length along the line its clearness is averaged."""
KNOT_MM = 0.8


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A guide along the line found, and the belief's standard deviation at its places, mm.

    ``sd_mm`` is that of the strip last looked at, ``wide_sd_mm`` that of the wide one, where
    other ways count too.
    """

    guide: Guide
    sd_mm: Array
    wide_sd_mm: Array


def wide_way(light: Light, guide: Guide, taps: Array, kind: Kind, mm_per_px: float) -> Way:
    """Return the way most believed, as far as the taps allow."""
    across = _across(REACH_MM + WIDE_ROOM_MM, WIDE_COLUMN_MM)
    places = _across(REACH_MM, WIDE_PLACE_MM)
    strip = straightened(light, guide, across / mm_per_px)
    row_mm = guide.step_px * mm_per_px
    rows = Rows.every(WIDE_ROW_MM, len(strip), row_mm)
    marked = rows_of(guide, taps)
    spread = spread_mm(marked, len(strip), row_mm)[:, None]
    pull = -0.5 * (places / spread[rows.at]) ** 2 * rows.apart_mm / HOLD_MM
    for row in marked:
        pull[np.abs(rows.at - row).argmin()] -= 0.5 * (places / TAP_MM) ** 2

    def believe(shown: Array) -> Belief:
        return believed(rows.apart_mm * shown + pull, places, rows.apart_mm, WIDE, 0.4)

    if kind == "inner":
        found = believe(crease.wide_gain(strip, across, rows, places))
        return _moved(guide, found, rows.at, mm_per_px)
    seen = outline.wide_looks(strip, row_mm, WIDE_COLUMN_MM)
    inside = ndtr(-across / spread)
    found = believe(outline.wide_gain(seen, across, inside, rows, places))
    inside = _inside(found, rows.at, places, across, len(strip))
    found = believe(outline.wide_gain(seen, across, inside, rows, places))
    return _moved(guide, found, rows.at, mm_per_px)


def _inside(
    found: Belief, at: NDArray[np.int64], places: Array, across: Array, count: int
) -> Array:
    """Return how likely each place of the wide strip lies inward of the edge, (S, O)."""
    beyond = 1.0 - np.cumsum(found.share, axis=1)
    wide = np.stack([np.interp(across, places, row, left=1.0, right=0.0) for row in beyond])
    rows = np.interp(np.arange(count), at, np.arange(len(at)))
    low = np.minimum(rows.astype(int), len(at) - 2)
    share = (rows - low)[:, None]
    return np.asarray(wide[low] * (1 - share) + wide[low + 1] * share)


def on_edge(light: Light, way: Way, kind: Kind, mm_per_px: float) -> Way:
    """Return the way on the edge itself."""
    across, places = _across(NEAR_MM + ROOM_MM, COLUMN_MM), _across(NEAR_MM, PLACE_MM)
    looked = {"outer": outline.gain, "inner": crease.gain}[kind]
    found = way
    for _ in range(TIMES[kind]):
        strip = straightened(light, found.guide, across / mm_per_px)
        rows = Rows.every(PLACE_ROW_MM, len(strip), found.guide.step_px * mm_per_px)
        shown = looked(strip, across, rows, places)
        shown = shown - 0.5 * (places / PULL_MM) ** 2 / PULL_ALONG_MM
        belief = believed(rows.apart_mm * shown, places, rows.apart_mm, NARROW, 0.2)
        found = _moved(found.guide, belief, rows.at, mm_per_px)
    share, wide_share = (np.linspace(0.0, 1.0, len(w.sd_mm)) for w in (found, way))
    return Way(found.guide, found.sd_mm, np.interp(share, wide_share, way.wide_sd_mm))


def clearness(light: Light, way: Guide, kind: Kind, mm_per_px: float) -> Array:
    """Return how clear an edge is on the way, (S,); below 1 none is seen."""
    across = _across(JUDGED_MM, JUDGED_COLUMN_MM)
    strip = straightened(light, way, across / mm_per_px)
    judged = {"outer": outline.clearness, "inner": crease.clearness}[kind]
    return judged(strip, across, way.step_px * mm_per_px, ALONG_MM[kind])


def _across(reach_mm: float, step_mm: float) -> Array:
    count = round(reach_mm / step_mm)
    return np.asarray(np.arange(-count, count + 1) * step_mm, dtype=np.float64)


def _moved(guide: Guide, found: Belief, at: NDArray[np.int64], mm_per_px: float) -> Way:
    """Return the guide moved to where the line is believed."""
    rows = np.arange(len(guide.points))
    off = make_interp_spline(at, found.place_mm, k=3)(rows)
    points = guide.moved(off / mm_per_px)
    knots = max(1, round(KNOT_MM / mm_per_px / guide.step_px))
    kept = points[::knots] if len(points) > 4 * knots else points
    if not np.array_equal(kept[-1], points[-1]):
        kept = np.concatenate([kept[:-1], points[-1:]])
    new = through(kept, guide.step_px)
    side = float(new.normals[len(new.normals) // 2] @ guide.normals[len(guide.normals) // 2])
    places = np.linspace(0.0, len(guide.points) - 1, len(new.points))
    sd_mm = np.interp(places, at, found.sd_mm)
    return Way(new if side > 0 else new.turned(), sd_mm, sd_mm)
