"""Scale without the scale card: an ID-1 card's four edges, or two points on a ruler.

Both are much less sure than the scale card, and say so.

References
----------
ISO/IEC 7810, ID-1: 85.60 x 53.98 mm, made between 85.47 x 53.92 and 85.72 x 54.03.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from calibration.frames import Array
from calibration.lens import Camera, LensPrior, undistort
from calibration.pose import PlaneFit, PoseRefused, refine_pose

ID1_MM = (85.60, 53.98)
U_ID1_REL = 0.0010
"""Half the tolerance's relative range over root 3."""
U_EDGE_PX = 1.0
"""How well four clicked edges give a corner, px (assumed)."""
U_TILT_DEG = 10.0


def id1_fit(edges_px: Array, prior: LensPrior) -> PlaneFit | PoseRefused:
    """Return the pose of an ID-1 card from its straight edges, never its rounded corners.

    Parameters
    ----------
    edges_px : (4, 2, 2) array
        Two points on each edge, in order round the card: top, right, bottom, left.
    prior : what is known of the lens
    """
    lines = [_line(*undistort(prior.camera, edge)) for edge in edges_px]
    corners = [np.cross(a, b) for a, b in pairwise([lines[3], *lines])]
    if any(abs(corner[2]) < 1e-9 for corner in corners):
        return PoseRefused(
            "edges_parallel",
            "Two neighbouring edges of the card run side by side.",
            "They are not the card's four edges.",
            "Mark top, right, bottom and left edge in this order.",
        )
    ideal = np.array([corner[:2] / corner[2] for corner in corners])
    camera = prior.camera
    seen = ideal * [camera.fx, camera.fy] + [camera.cx, camera.cy]
    width, height = ID1_MM
    places = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)
    flat = LensPrior(_undistorted(prior), prior.u_f_rel, 1e-6, prior.source)
    fit = refine_pose(seen, places, flat, U_EDGE_PX)
    if isinstance(fit, PoseRefused):
        return fit
    return _with_scale(_back(fit, prior), U_ID1_REL)


def ruler_fit(
    points_px: Array,
    length_mm: float,
    u_length_mm: float,
    prior: LensPrior,
    u_tilt_deg: float = U_TILT_DEG,
) -> PlaneFit | PoseRefused:
    """Return the pose that two points on a ruler allow: square to the line of sight.

    Parameters
    ----------
    points_px : (2, 2) array
    length_mm, u_length_mm : the way between them
    prior : what is known of the lens
    u_tilt_deg : how far the ruler's plane may be tilted, each axis
    """
    ideal = undistort(prior.camera, points_px)
    span = float(np.linalg.norm(ideal[1] - ideal[0]))
    if span * prior.camera.fx < 20.0:
        return PoseRefused(
            "ruler_too_short",
            f"The ruler's points are {span * prior.camera.fx:.0f} px apart.",
            "No scale can be had from that.",
            "Mark two points further apart.",
        )
    depth = length_mm / span
    start = ideal[0] * depth
    tvec = np.array([start[0], start[1], depth])
    u_rel, u_px = u_length_mm / length_mm, 0.7 * U_EDGE_PX / (span * prior.camera.fx)
    covariance = np.zeros((8, 8))
    covariance[0, 0], covariance[1, 1] = prior.u_f_rel**2, prior.u_k1**2
    covariance[2, 2] = covariance[3, 3] = np.deg2rad(u_tilt_deg) ** 2
    by_scale = np.concatenate([np.zeros(5), tvec])
    by_focal = np.array([1.0, 0, 0, 0, 0, 0, 0, depth])  # a longer lens saw it from further off
    covariance[0, 0] = 0.0
    covariance += np.outer(by_focal, by_focal) * prior.u_f_rel**2
    covariance += np.outer(by_scale, by_scale) * (u_rel**2 + 2 * u_px**2)
    return PlaneFit(prior.camera, np.zeros(3), tvec, covariance, 0.0, 2)


def _line(start: Array, end: Array) -> Array:
    return np.asarray(np.cross([*start, 1.0], [*end, 1.0]))


def _undistorted(prior: LensPrior) -> Camera:
    camera = prior.camera
    return Camera(camera.fx, camera.fy, camera.cx, camera.cy)


def _back(fit: PlaneFit, prior: LensPrior) -> PlaneFit:
    """Return the fit with the lens's own distortion and what is open about it."""
    covariance = fit.covariance.copy()
    covariance[1, :] = covariance[:, 1] = 0.0
    covariance[1, 1] = prior.u_k1**2
    return replace(fit, camera=replace(fit.camera, dist=prior.camera.dist), covariance=covariance)


def _with_scale(fit: PlaneFit, u_rel: float) -> PlaneFit:
    """Return the fit with the object's own tolerance: a larger one seen from further off."""
    by_scale = np.concatenate([np.zeros(5), fit.tvec])
    return replace(fit, covariance=fit.covariance + np.outer(by_scale, by_scale) * u_rel**2)
