"""A pen dot along a line on which it must lie: another photo's line of sight, seen in this one.

Looked for from the most likely place outward; a dot beside the line is another one.
"""

from __future__ import annotations

import numpy as np

from calibration.epipolar import nearest_on_line
from calibration.frames import Array, Image
from tracing.dots import Dot, NoDot, snap

STEP_MM, FARTHEST_MM = 2.0, 6.5
"""How far apart the places are that are looked at, and how far from the most likely one."""
BESIDE_MM = 1.5
"""How far beside the line a dot may lie: the card may have moved by 0.5 mm on each axis in each
of the two photos (assumed), twice its standard deviation."""
NONE = NoDot("line", "No pen dot is seen along the line.")


def snap_along(picture: Image, line_px: Array, first: int, mm_per_px: float) -> Dot | NoDot:
    """Return the pen dot on a line nearest to its most likely place.

    Parameters
    ----------
    picture : (H, W, 3) array, RGB
    line_px : (n, 2) array, px, n at least 2
    first : which of the line's places is the most likely one
    mm_per_px : float
        At the skin.
    """
    line = np.asarray(line_px, dtype=np.float64)
    for near in places_on(line, first, mm_per_px):
        found = snap(picture, near, mm_per_px)
        if isinstance(found, NoDot):
            continue
        _, beside = nearest_on_line(line, found.point_px[None])
        away = np.linalg.norm(found.point_px - line[first])
        if beside[0] * mm_per_px <= BESIDE_MM and away * mm_per_px <= FARTHEST_MM:
            return found
    return NONE


def places_on(line_px: Array, first: int, mm_per_px: float) -> Array:
    """Return places along a line, (K, 2) px, from its most likely one outward."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line_px, axis=0), axis=1))])
    reach = np.arange(0.0, FARTHEST_MM, STEP_MM) / mm_per_px
    at = length[first] + np.concatenate([[0.0], *([step, -step] for step in reach[1:])])
    at = at[(at >= 0.0) & (at <= length[-1])]
    return np.column_stack([np.interp(at, length, line_px[:, axis]) for axis in (0, 1)])
