"""Scale without the scale card: an ID-1 card's four edges, or two points on a ruler.

Both are much less sure than the scale card, and say so.

References
----------
ISO/IEC 7810, ID-1: 85.60 x 53.98 mm, made between 85.47 x 53.92 and 85.72 x 54.03.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import cv2
import numpy as np

from calibration.frames import Array
from calibration.lens import Camera, LensPrior, undistort
from calibration.pose import PlaneFit, PoseRefused, refine_pose

ID1_MM = (85.60, 53.98)
ID1_RANGES_MM = ((85.47, 85.72), (53.92, 54.03))
U_ID1_REL = max(
    (high - low) / 2 / np.sqrt(3) / side
    for side, (low, high) in zip(ID1_MM, ID1_RANGES_MM, strict=True)
)
"""A rectangular distribution over the tolerance, of the side it leaves more open."""
U_CLICK_PX = 1.0
"""Standard uncertainty of a clicked point, each axis, px (assumed)."""
U_TILT_DEG = 10.0
LEAST_RULER_PX = 20.0


def id1_fit(edges_px: Array, prior: LensPrior) -> PlaneFit | PoseRefused:
    """Return the pose of an ID-1 card from its straight edges, never its rounded corners.

    The edges may come in any order.  The frame's up is the card's side that is nearest to up
    in the picture, so a card held upright has its long side along y.

    Parameters
    ----------
    edges_px : (4, 2, 2) array
        Two points on each edge.
    prior : what is known of the lens
    """
    flat = np.asarray(edges_px, dtype=np.float64).reshape(8, 2)
    corners = _corners(undistort(prior.camera, flat).reshape(4, 2, 2))
    if corners is None:
        return PoseRefused(
            "edges_parallel",
            "The four marked edges don't enclose a card.",
            "Two of them lie on one side, or a side is missing.",
            "Mark two points on each of the card's four straight edges.",
        )
    places = _places(corners)
    camera = _undistorted(prior)
    seen = corners * [camera.fx, camera.fy] + [camera.cx, camera.cy]
    sigma_px = U_CLICK_PX * _gain(undistort(prior.camera, flat), prior.camera)
    fit = refine_pose(seen, places, LensPrior(camera, prior.u_f_rel, 1e-6, prior.source), sigma_px)
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

    The ruler's tilt isn't seen.  Along the ruler a tilt changes nothing; across it the scale
    goes with the cosines of two unknown tilts, whose ratio has the relative standard deviation
    u_tilt^2 (radians), which is added.

    Parameters
    ----------
    points_px : (2, 2) array
    length_mm, u_length_mm : the way between them
    prior : what is known of the lens
    u_tilt_deg : how far the ruler's plane may be tilted, each axis
    """
    ideal = undistort(prior.camera, np.asarray(points_px, dtype=np.float64))
    rays = np.column_stack([ideal, np.ones(2)])
    sight = rays.mean(axis=0) / np.linalg.norm(rays.mean(axis=0))
    turned = rays @ _facing(sight)  # in a frame whose z is the line of sight
    ends = turned[:, :2] / turned[:, 2:]
    span = float(np.linalg.norm(ends[1] - ends[0]))
    apart_px = float(np.linalg.norm(np.subtract(*np.asarray(points_px, dtype=np.float64))))
    if apart_px < LEAST_RULER_PX or not length_mm > 0:
        return PoseRefused(
            "ruler_too_short",
            f"The ruler's points are {apart_px:.0f} px and {length_mm:g} mm apart.",
            "No scale can be had from that.",
            f"Mark two points at least {LEAST_RULER_PX:.0f} px apart and give their distance.",
        )
    depth = length_mm / span
    rvec = np.asarray(cv2.Rodrigues(_facing(sight))[0], dtype=np.float64).ravel()
    tvec = _facing(sight) @ np.array([*ends[0] * depth, depth])
    u_tilt = float(np.deg2rad(u_tilt_deg))
    u_click = U_CLICK_PX * np.sqrt(2.0) / apart_px
    u_rel = float(np.sqrt((u_length_mm / length_mm) ** 2 + u_click**2 + u_tilt**4))
    covariance = _ruler_covariance(tvec, prior, u_tilt)
    fit = PlaneFit(prior.camera, rvec, tvec, covariance, 0.0, 2)
    return _with_scale(fit, u_rel)


def _facing(sight: Array) -> Array:
    """Return the least turn that takes the z axis to a direction, (3, 3)."""
    axis = np.cross([0.0, 0.0, 1.0], sight)
    size = float(np.linalg.norm(axis))
    angle = float(np.arctan2(size, sight[2]))
    rvec = axis / size * angle if size > 0 else axis
    return np.asarray(cv2.Rodrigues(rvec)[0], dtype=np.float64)


def _ruler_covariance(tvec: Array, prior: LensPrior, u_tilt: float) -> Array:
    covariance = np.zeros((8, 8))
    covariance[1, 1] = prior.u_k1**2
    covariance[2, 2] = covariance[3, 3] = u_tilt**2
    # A longer lens saw it from further off, along the axis.
    by_focal = np.array([1.0, 0, 0, 0, 0, 0, 0, tvec[2]])
    return covariance + np.outer(by_focal, by_focal) * prior.u_f_rel**2


def _corners(edges: Array) -> Array | None:
    """Return the four corners clockwise from the top left, (4, 2), or None if there are none."""
    middles = edges.mean(axis=1)
    offset = middles - middles.mean(axis=0)
    turn = np.argsort(np.arctan2(offset[:, 1], offset[:, 0]))  # clockwise, as y goes down
    lines = [_line(*edges[i]) for i in turn]
    meets = [np.cross(a, b) for a, b in pairwise([*lines, lines[0]])]
    lengths = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    if lengths.min() <= 0 or any(abs(meet[2]) < 1e-3 * np.linalg.norm(meet) for meet in meets):
        return None
    corners = np.array([meet[:2] / meet[2] for meet in meets])
    sides = np.roll(corners, -1, axis=0) - corners
    bends = sides[:, 0] * np.roll(sides, -1, axis=0)[:, 1]
    bends = bends - sides[:, 1] * np.roll(sides, -1, axis=0)[:, 0]
    if not (bends > 0).all():
        return None
    across = sides / np.linalg.norm(sides, axis=1)[:, None]
    return np.roll(corners, -int(np.argmax(across[:, 0])), axis=0)  # the top runs to the right


def _places(corners: Array) -> Array:
    """Return the corners on the card, mm: the side that looks longer is the longer."""
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    lying = sides[0] + sides[2] >= sides[1] + sides[3]
    width, height = ID1_MM if lying else ID1_MM[::-1]
    return np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=np.float64)


def _gain(points: Array, camera: Camera) -> float:
    """Return a corner's standard uncertainty over a clicked point's, root mean square."""
    step, slopes = 1e-3 / camera.fx, []
    for i in range(8):
        for axis in (0, 1):
            moved = [points.copy(), points.copy()]
            moved[0][i, axis] += step
            moved[1][i, axis] -= step
            ends = [_corners(m.reshape(4, 2, 2)) for m in moved]
            if ends[0] is None or ends[1] is None:
                return 1.0
            slopes.append((ends[0] - ends[1]) / (2 * step))
    return float(np.sqrt(np.sum(np.square(slopes)) / 8))


def _line(start: Array, end: Array) -> Array:
    line = np.cross([*start, 1.0], [*end, 1.0])
    return np.asarray(line / max(float(np.linalg.norm(line[:2])), 1e-12))


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
