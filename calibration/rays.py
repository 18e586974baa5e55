"""Rays of pen dots through several cameras, and where they meet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from calibration.frames import Array
from calibration.lens import project, turn, undistort
from calibration.pose import PlaneFit


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
    at = nearest(fits, points_px, u_px)
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


def nearest(fits: Sequence[PlaneFit], points_px: Array, u_px: Array) -> Array:
    """Return the place of least weighted squared distance to one point's rays, (3,) mm.

    The same parameters as `meeting`; good enough to begin with, and never far off.
    """
    total, pull = np.zeros((3, 3)), np.zeros(3)
    for fit, pixel, u in zip(fits, points_px, u_px, strict=True):
        way = directions(fit, pixel[None])[0]
        centre = fit.centre_mm
        off = (np.eye(3) - np.outer(way, way)) / (u * np.linalg.norm(centre) / fit.camera.fx) ** 2
        total += off
        pull += off @ centre
    return np.asarray(np.linalg.lstsq(total, pull, rcond=None)[0])


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
