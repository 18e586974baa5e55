"""Rays of pen dots through several cameras, and where they meet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from calibration.frames import Array
from calibration.lens import project, turn, undistort
from calibration.pose import PlaneFit
from calibration.view_photo import Mark


def directions(fit: PlaneFit, points_px: Array) -> Array:
    """Return the unit directions, (K, 3) card frame, in which pixels, (K, 2), are seen."""
    ideal = undistort(fit.camera, points_px)
    rays = np.column_stack([ideal, np.ones(len(ideal))]) @ turn(fit.rvec)
    return np.asarray(rays / np.linalg.norm(rays, axis=1, keepdims=True))


def meeting(fits: Sequence[PlaneFit], points_px: Array, u_px: Array) -> tuple[Array, Array]:
    """Return where one point's rays meet, and the covariance that its marks bring.

    Gauss-Newton on the pixels from the place nearest to all rays; the cameras count as exact.

    Parameters
    ----------
    fits : m cameras in one card frame, at least two
    points_px : (m, 2) array
    u_px : (m,) array
        Standard uncertainty of each mark, each axis.

    Returns
    -------
    (3,) array, mm, and (3, 3) array, mm²
    """
    marks = [
        {"": Mark((float(x), float(y)), float(u))}
        for (x, y), u in zip(points_px, u_px, strict=True)
    ]
    at = nearest_places(fits, marks)[""]
    weight = np.repeat(1.0 / u_px, 2)
    normal = np.eye(3)
    for _ in range(15):
        seen, slopes = zip(*(_seen(fit, at) for fit in fits), strict=True)
        slope = np.vstack(slopes) * weight[:, None]
        gap = (points_px - np.array(seen)).ravel() * weight
        normal = slope.T @ slope
        step = np.linalg.lstsq(normal, slope.T @ gap, rcond=None)[0]
        at = at + step
        if float(step @ normal @ step) < 1e-12:
            break
    return np.asarray(at), np.asarray(np.linalg.pinv(normal))


def nearest_places(
    fits: Sequence[PlaneFit], marks: Sequence[Mapping[str, Mark]]
) -> dict[str, Array]:
    """Return for each dot the place of least weighted squared distance to its rays, (3,) mm.

    Good enough to begin with, and never far off.

    Parameters
    ----------
    fits : n cameras in one card frame
    marks : n photos' marks by the dots' names
    """
    total: dict[str, Array] = {}
    pull: dict[str, Array] = {}
    for fit, own in zip(fits, marks, strict=True):
        if not own:
            continue
        ways = directions(fit, np.array([mark.at_px for mark in own.values()]))
        centre, reach = fit.centre_mm, float(np.linalg.norm(fit.centre_mm)) / fit.camera.fx
        for (name, mark), way in zip(own.items(), ways, strict=True):
            off = (np.eye(3) - np.outer(way, way)) / (mark.weighed_px * reach) ** 2
            total[name] = total.get(name, np.zeros((3, 3))) + off
            pull[name] = pull.get(name, np.zeros(3)) + off @ centre
    return {
        name: np.asarray(np.linalg.lstsq(total[name], pull[name], rcond=None)[0]) for name in total
    }


def _seen(fit: PlaneFit, at: Array) -> tuple[Array, Array]:
    """Return the pixel, (2,), of a place and its slope by the place, (2, 3)."""
    seen, slope = project(fit.camera, fit.rvec, fit.tvec, at[None])
    return seen[0], np.asarray(slope[:, 5:8] @ turn(fit.rvec))


def widest_angle_deg(centres_mm: Array, at_mm: Array) -> float:
    """Return the widest angle between the lines of sight to a place, deg.

    Parameters
    ----------
    centres_mm : (m, 3) array
        The cameras that see it.
    at_mm : (3,) array
    """
    sight = centres_mm - at_mm
    sight = sight / np.linalg.norm(sight, axis=1, keepdims=True)
    cosine = np.clip(sight @ sight.T, -1.0, 1.0)
    return float(np.rad2deg(np.arccos(cosine.min())))
