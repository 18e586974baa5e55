"""How much better the dots in space would be known with one more photo, before it is taken.

From the geometry alone: the photo's marks enter the joint covariance as further observations.
Its card gives the camera so well that only the card's own movement counts beside the marks.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from calibration.frames import Array
from calibration.lens import project, turn
from calibration.pose import PlaneFit
from calibration.views import ViewsSolved


def camera_toward(like: PlaneFit, target_mm: Array, sight: Array, distance_mm: float) -> PlaneFit:
    """Return the camera that looks at a place from a direction, upright.

    Parameters
    ----------
    like : a fit of the same phone, for its lens
    target_mm : (3,) array, card frame
    sight : (3,) array
        From the place to the camera.
    distance_mm : float
    """
    forward = -sight / np.linalg.norm(sight)
    right = np.cross(np.array([0.0, 1.0, 0.0]), forward)
    right = right / np.linalg.norm(right)
    way = np.stack([right, np.cross(forward, right), forward])
    rvec, _ = cv2.Rodrigues(way)
    tvec = -way @ (target_mm - distance_mm * forward)
    return PlaneFit(
        like.camera, np.asarray(rvec, dtype=np.float64).ravel(), tvec, np.zeros((8, 8)), 0.0, 0
    )


def covariance_with(
    solved: ViewsSolved, camera: PlaneFit, dots: Sequence[str], u_px: float
) -> Array:
    """Return the dots' joint covariance, (3K, 3K) mm², with one more photo.

    Parameters
    ----------
    solved : the dots as they are known
    camera : where the photo would be taken from
    dots : names of those that it would show; others are passed over
    u_px : standard uncertainty of a mark in it, each axis
    """
    points, problem = solved.points, solved.found.problem
    names = [name for name in dots if name in points.names]
    if not names:
        return points.covariance
    places = np.array([points.place(name) for name in names])
    _, slope = project(camera.camera, camera.rvec, camera.tvec, places)
    by_place = slope[:, 5:8] @ turn(camera.rvec)
    design = np.zeros((2 * len(names), points.at_mm.size))
    for k, name in enumerate(names):
        design[2 * k : 2 * k + 2, points.rows(name)] = by_place[2 * k : 2 * k + 2]
    noise = max(u_px, 1e-3) ** 2 * np.eye(len(design))
    if problem.moving:
        arms = places - problem.pivot_mm
        swing = np.concatenate([_crossed(arm) for arm in arms])  # (3m, 3) by the card's turn
        rows = by_place.reshape(-1, 2, 3)
        turned = np.concatenate([r @ s for r, s in zip(rows, swing.reshape(-1, 3, 3), strict=True)])
        moved = np.hstack([turned, by_place]) * problem.move_sigmas()
        noise = noise + moved @ moved.T
    known = points.covariance
    gain = known @ design.T @ np.linalg.inv(design @ known @ design.T + noise)
    return np.asarray(known - gain @ design @ known)


def _crossed(arm: Array) -> Array:
    """Return the matrix of a small turn's swing of an arm, (3, 3)."""
    x, y, z = arm
    return np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])


def span_u_mm(solved: ViewsSolved, covariance: Array, ends: tuple[str, str]) -> float:
    """Return the standard uncertainty of the distance of two dots under a joint covariance."""
    points = solved.points
    gap = points.place(ends[0]) - points.place(ends[1])
    slope = np.zeros(points.at_mm.size)
    slope[points.rows(ends[0])] = gap / np.linalg.norm(gap)
    slope[points.rows(ends[1])] = -gap / np.linalg.norm(gap)
    return float(np.sqrt(slope @ covariance @ slope))
