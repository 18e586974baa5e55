"""How much better the dots in space would be known with one more photo, before it is taken.

From the geometry alone: the photo's marks enter the joint covariance as further observations.
Its card gives the camera so well that only the card's own movement counts beside the marks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from calibration.frames import Array
from calibration.joint_problem import LEVER_MM
from calibration.lens import project, turn
from calibration.pose import PlaneFit
from calibration.views import ViewsSolved

VAGUE_MM = 50.0
"""How far off a dot may lie of which nothing is known yet (standard deviation, each axis)."""


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
    rows = [i for i, name in enumerate(points.names) if name in dots]
    at = points.at_mm.reshape(-1, 3)
    moves = problem.move_sigmas() if problem.moving else None
    return _with_photo(points.covariance, camera, at, rows, (u_px, moves, problem.pivot_mm))


def foretold(
    photos: Sequence[tuple[PlaneFit, Sequence[str], float]],
    places: Mapping[str, Array],
    u_shift_mm: float,
) -> Array:
    """Return the dots' joint covariance, (3K, 3K) mm², that photos will give: before any mark.

    A dot that fewer than two photos show stays as good as unknown.

    Parameters
    ----------
    photos : each with its camera, the dots it shows, the standard uncertainty of a mark (px)
    places : about where each dot lies, (3,) mm
    u_shift_mm : float
        How much the card may move between two photos, each axis.
    """
    names = list(places)
    at = np.array([places[name] for name in names])
    each_mm = u_shift_mm / np.sqrt(2.0)  # told is the difference between two photos
    moves = np.repeat([each_mm / LEVER_MM, each_mm], 3) if u_shift_mm > 0.0 else None
    known = VAGUE_MM**2 * np.eye(at.size)
    for camera, dots, u_px in photos:
        rows = [i for i, name in enumerate(names) if name in dots]
        known = _with_photo(known, camera, at, rows, (u_px, moves, at.mean(axis=0)))
    return known


def _with_photo(
    known: Array,
    camera: PlaneFit,
    at_mm: Array,
    rows: Sequence[int],
    noise_of: tuple[float, Array | None, Array],
) -> Array:
    """Return a joint covariance with one photo more.

    Parameters
    ----------
    known : (3K, 3K) array, mm²
    camera : the photo's
    at_mm : (K, 3) array
    rows : which dots it shows
    noise_of : u of a mark (px), sigmas of the card's turn and shift, (6,) or none, its pivot, (3,)
    """
    if not rows:
        return known
    u_px, moves, pivot = noise_of
    places = at_mm[list(rows)]
    _, slope = project(camera.camera, camera.rvec, camera.tvec, places)
    by_place = slope[:, 5:8] @ turn(camera.rvec)
    design = np.zeros((2 * len(rows), at_mm.size))
    for k, row in enumerate(rows):
        design[2 * k : 2 * k + 2, 3 * row : 3 * row + 3] = by_place[2 * k : 2 * k + 2]
    noise = max(u_px, 1e-3) ** 2 * np.eye(len(design))
    if moves is not None:
        arms = places - pivot
        swing = np.concatenate([_crossed(arm) for arm in arms])  # (3m, 3) by the card's turn
        pairs = zip(by_place.reshape(-1, 2, 3), swing.reshape(-1, 3, 3), strict=True)
        moved = np.hstack([np.concatenate([r @ s for r, s in pairs]), by_place]) * moves
        noise = noise + moved @ moved.T
    gain = known @ design.T @ np.linalg.inv(design @ known @ design.T + noise)
    return np.asarray(known - gain @ design @ known)


def _crossed(arm: Array) -> Array:
    """Return the matrix of a small turn's swing of an arm, (3, 3)."""
    x, y, z = arm
    return np.array([[0.0, z, -y], [-z, 0.0, x], [y, -x, 0.0]])


def span_u_mm(solved: ViewsSolved, covariance: Array, ends: tuple[str, str]) -> float:
    """Return the standard uncertainty of the distance of two dots under a joint covariance."""
    points = solved.points
    return span_u(
        dict(zip(points.names, points.at_mm.reshape(-1, 3), strict=True)), covariance, ends
    )


def span_u(places: Mapping[str, Array], covariance: Array, ends: tuple[str, str]) -> float:
    """Return the standard uncertainty of the distance of two of the dots, mm.

    Parameters
    ----------
    places : the dots, (3,) mm, in the covariance's order
    covariance : (3K, 3K) array, mm²
    ends : the names of the two
    """
    first, last = (list(places).index(name) for name in ends)
    gap = places[ends[0]] - places[ends[1]]
    slope = np.zeros(len(covariance))
    slope[3 * first : 3 * first + 3] = gap / np.linalg.norm(gap)
    slope[3 * last : 3 * last + 3] = -gap / np.linalg.norm(gap)
    return float(np.sqrt(slope @ covariance @ slope))
