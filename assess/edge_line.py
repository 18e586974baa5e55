"""A marked contour near one of its places: where it runs there, and how well that is known.

A parabola through the vertices nearby, by least squares: a tangent from two neighbouring
vertices would carry the whole jitter of a hand.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array

REACH_MM = 7.0
"""How far along the contour, each way, a vertex still counts."""
LEAST_VERTICES = 4
"""Where fewer are so near, the nearest ones count up to twice as far."""


@dataclass(frozen=True, slots=True)
class EdgeLine:
    """A contour's tangent where a line of sight through ``at`` meets it, in the contour's unit.

    ``at`` (2,) is the place, ``along`` (2,) the tangent's unit vector; ``u_across`` the u of the
    place square to the tangent, ``u_turn`` that of the tangent's direction (rad).
    """

    at: Array
    along: Array
    u_across: float
    u_turn: float


def crossing(contour: Array, start: Array, way: Array) -> Array | None:
    """Return where the contour crosses the line through ``start`` along ``way``, nearest to it.

    Parameters
    ----------
    contour : (N, 2) array, a polyline
    start, way : (2,) arrays
    """
    off = contour - start
    side = way[0] * off[:, 1] - way[1] * off[:, 0]
    crossed = np.flatnonzero(np.sign(side[:-1]) != np.sign(side[1:]))
    if len(crossed) == 0:
        return None
    part = (side[crossed] / (side[crossed] - side[crossed + 1]))[:, None]
    places = contour[crossed] + part * (contour[crossed + 1] - contour[crossed])
    return np.asarray(places[np.argmin(np.linalg.norm(places - start, axis=1))])


def edge_line(
    contour: Array, start: Array, way: Array, sigma: float, reach: float
) -> EdgeLine | None:
    """Return the contour's tangent where it crosses a line; None where too little is marked.

    Parameters
    ----------
    contour : (N, 2) array
    start, way : (2,) arrays
        The line that the contour crosses.
    sigma : u of a vertex, each axis
    reach : how far along it a vertex counts; all in the contour's unit
    """
    at, least = crossing(contour, start, way), LEAST_VERTICES - 1
    if at is None or len(contour) < LEAST_VERTICES:
        return None
    gap = np.linalg.norm(contour - at, axis=1)
    own = gap <= min(max(reach, np.partition(gap, least)[least]), 2.0 * reach)
    near = contour[own]
    if len(near) < LEAST_VERTICES:
        return None
    _, _, axes = np.linalg.svd(near - near.mean(axis=0))
    x, y = ((near - at) @ axes.T).T
    if x.min() > 0.0 or x.max() < 0.0:
        return None
    design = np.vander(x, 3, increasing=True)
    inverse = np.linalg.inv(design.T @ design)
    height, slope = (inverse @ design.T @ y)[:2]
    u_height, u_slope = sigma * np.sqrt(np.diag(inverse)[:2])
    along = (axes[0] + slope * axes[1]) / np.hypot(1.0, slope)
    flat = 1.0 / (1.0 + slope**2)
    return EdgeLine(
        at + height * axes[1], along, float(u_height * np.sqrt(flat)), float(u_slope * flat)
    )
