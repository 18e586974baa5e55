"""A pen dot along a line on which it must lie: another photo's line of sight, seen in this one.

Looked for from the most likely place outward; a dot beside the line is another one.
"""

from __future__ import annotations

import numpy as np

from calibration.epipolar import nearest_on_line
from calibration.frames import Array, Image
from tracing.dots import Dot, NoDot, snap

STEP_MM, NEAR_MM, FARTHEST_MM = 1.0, 1.6, 6.5
"""How far apart the places are that are looked at, how far from its place a dot is taken (what is
farther off is another place's), and how far from the most likely one."""
BESIDE_MM = 1.5
"""How far beside the line a dot may lie: the card may have moved by 0.5 mm on each axis in each
of the two photos (assumed), twice its standard deviation."""
SURE_MM = 0.07
"""Of which the place is known less well, that is no dot to propose unasked: mostly a part of one
whose centre is hidden.  Tapped it may be taken all the same."""
SLIVERS = 1
"""Of each place on the line so many are tried for a sliver: the next place has its own."""
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
    for ring in places_on(line, first, mm_per_px):
        found = [dot for near in ring if (dot := _taken(picture, near, line, first, mm_per_px))]
        if found:
            return min(found, key=lambda dot: float(np.linalg.norm(dot.point_px - line[first])))
    return NONE


def _taken(picture: Image, near: Array, line: Array, first: int, mm_per_px: float) -> Dot | None:
    """Return the dot at one of the line's places, if it may be the one looked for."""
    found = snap(picture, near, mm_per_px, most_slivers=SLIVERS)
    if isinstance(found, NoDot) or found.u_px * mm_per_px > SURE_MM:
        return None
    _, beside = nearest_on_line(line, found.point_px[None])
    near_mm, away_mm = (
        float(np.linalg.norm(found.point_px - place)) * mm_per_px for place in (near, line[first])
    )
    close = near_mm <= NEAR_MM and float(beside[0]) * mm_per_px <= BESIDE_MM
    return found if close and away_mm <= FARTHEST_MM else None


def places_on(line_px: Array, first: int, mm_per_px: float) -> list[Array]:
    """Return places along a line, (K, 2) px each, from its most likely one outward both ways."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line_px, axis=0), axis=1))])
    rings = []
    for step in np.arange(0.0, FARTHEST_MM, STEP_MM) / mm_per_px:
        at = length[first] + np.unique([step, -step])
        at = at[(at >= 0.0) & (at <= length[-1])]
        rings.append(np.column_stack([np.interp(at, length, line_px[:, i]) for i in (0, 1)]))
    return rings
