"""How much a straightened picture speaks for the outer contour at each place.

Columns run outward, away from the middle of the ear.  The outer contour is where the rim's skin
ends before hair, cloth or card; what those look like is learned from the picture itself.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter1d

from calibration.frames import Array
from tracing import skin
from tracing.light import Light
from tracing.strip import Rows

WIDE_WINDOW_MM, WINDOW_MM = 1.6, 0.6
"""How far on each side of an edge counts."""
WIDE_SPAN_MM, SPAN_MM = 8.0, 2.5
"""Along which length each side is learned."""
WIDE_FLOOR, FLOOR = np.array([0.25, 0.05, 0.05, 0.04]), np.array([0.06, 0.03, 0.03])
"""What either side differs by itself: shade, colours, grain."""
BEYOND_DOUBT, NEAR_MM = 0.85, 2.0
"""Where a side is learned from: what is as surely within or without, and not farther away."""
RIM_MM, BEHIND_MM, JUDGED_MM = (0.2, 1.6), (0.35, 1.6), (0.45, 1.7)
"""Where, inward and outward of a line, rim and background are learned, and judged."""
WEIGHT = 2.0
"""How much a millimetre of evidence along the line counts in the narrow strip."""


def wide_looks(strip: Light, row_mm: float, column_mm: float) -> Array:
    """Return colours and grain of a wide strip, (S, O, 4), the colours calmed."""
    seen = skin.with_grain(skin.colours(strip), row_mm, column_mm)
    calm = gaussian_filter1d(seen[..., 1:3], 0.15 / row_mm, axis=0)
    seen[..., 1:3] = gaussian_filter1d(calm, 0.1 / column_mm, axis=1)
    return seen


def wide_gain(seen: Array, across_mm: Array, inside: Array, rows: Rows, at: Array) -> Array:
    """Return what speaks for the contour at the places ``at``, (R, P).

    Parameters
    ----------
    seen : (S, O, 4) array
    across_mm : (O,) array
    inside : (S, O) array
        How likely each place is the rim's skin, as far as is known.
    rows : Rows
    at : (P,) array, mm
    """
    middle = across_mm[0] + inside.sum(axis=1) * (across_mm[1] - across_mm[0])
    near = np.exp(-0.5 * ((across_mm[None] - middle[:, None]) / NEAR_MM) ** 2)
    rim, behind = (
        skin.looks(seen, near * np.maximum(part - BEYOND_DOUBT, 0.0), WIDE_SPAN_MM / rows.row_mm)
        for part in (inside, 1.0 - inside)
    )
    likelier = skin.likelier_skin(seen, rim.rougher(WIDE_FLOOR), behind.rougher(WIDE_FLOOR))
    return skin.edge_gain(rows.averaged(likelier), across_mm, at, WIDE_WINDOW_MM)


def gain(strip: Light, across_mm: Array, rows: Rows, at: Array) -> Array:
    """Return what speaks for the contour at the places ``at`` near column 0, (R, P)."""
    seen, span = skin.colours(strip), SPAN_MM / rows.row_mm
    rim = skin.looks_across(seen, _part(-across_mm, RIM_MM), across_mm, span)
    behind = skin.looks(seen[:, _part(across_mm, BEHIND_MM)], None, span)
    likelier = skin.likelier_skin(seen, rim.rougher(FLOOR), behind.rougher(FLOOR))
    return WEIGHT * skin.edge_gain(rows.averaged(likelier), across_mm, at, WINDOW_MM)


def clearness(strip: Light, across_mm: Array, row_mm: float, along_mm: float) -> Array:
    """Return how unlike skin what lies outward of column 0 is, (S,); below 1 it may be skin."""
    column_mm = float(across_mm[1] - across_mm[0])
    seen = skin.with_grain(skin.colours(strip), row_mm, column_mm)
    rim, behind = (
        skin.looks(seen[:, _part(side * across_mm, JUDGED_MM)], None, along_mm / row_mm)
        for side in (-1, 1)
    )
    return skin.unlike_skin(rim, behind)


def _part(out_mm: Array, reach: tuple[float, float]) -> slice:
    """Return the columns of a stretch across."""
    inside = np.flatnonzero((out_mm > reach[0]) & (out_mm < reach[1]))
    return slice(int(inside[0]), int(inside[-1]) + 1)
