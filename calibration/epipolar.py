"""Where a point of one photo may be seen in another: its ray, as the other camera sees it.

A lens bends the line, so it comes as a polyline: the ray's places from a height before the card
to one behind it, each projected.
"""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from calibration.lens import turn
from calibration.pose import PlaneFit
from calibration.rays import directions

HEIGHTS_MM = (-40.0, 40.0)
"""How far behind and before the card's plane a point of the ear may lie (assumed)."""


def epipolar_line(
    first: PlaneFit,
    second: PlaneFit,
    point_px: tuple[float, float],
    heights_mm: tuple[float, float] = HEIGHTS_MM,
    count: int = 33,
) -> Array:
    """Return the line in the second photo on which a point of the first is seen.

    Parameters
    ----------
    first, second : cameras before the same card, in its frame
    point_px : a point of the first photo, unmirrored
    heights_mm : from which to which height over the card's plane, toward the viewer
    count : places on the line

    Returns
    -------
    (n, 2) array, px of the second photo, n at most ``count``: places behind its camera are left
    out
    """
    way = directions(first, np.array([point_px]))[0]
    centre = first.centre_mm
    level = -np.linspace(*heights_mm, count)
    reach = (level - centre[2]) / way[2]
    places = centre + reach[:, None] * way
    depth = places @ turn(second.rvec)[2] + second.tvec[2]
    return second.project(places[(depth > 1.0) & (reach > 0.0)])


def nearest_on_line(line_px: Array, points_px: Array) -> tuple[Array, Array]:
    """Return the places of a polyline nearest to points, and how far off they are.

    Parameters
    ----------
    line_px : (n, 2) array, n at least 2
    points_px : (K, 2) array

    Returns
    -------
    (K, 2) array, px, and (K,) array, px
    """
    start, step = line_px[:-1], np.diff(line_px, axis=0)
    length = np.maximum(np.sum(step**2, axis=1), 1e-12)
    away = points_px[:, None] - start[None]
    share = np.clip(np.sum(away * step, axis=2) / length, 0.0, 1.0)
    places = start + share[..., None] * step
    gaps = np.linalg.norm(points_px[:, None] - places, axis=2)
    best = np.argmin(gaps, axis=1)
    rows = np.arange(len(points_px))
    return np.asarray(places[rows, best]), np.asarray(gaps[rows, best])
