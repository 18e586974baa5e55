"""A lens from a few tilted photos of the card: focal length, centre, k1 and k2.

All photos share one lens; each has a pose of its own.  Least squares on all corners at once,
with the same scatter for every corner, taken from the residuals.

References
----------
Zhang, A flexible new technique for camera calibration, IEEE TPAMI 22 (2000), from memory: a
plane seen from at least three directions gives the lens.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from scipy.optimize import least_squares

from calibration.frames import Array
from calibration.lens import Camera, LensPrior, turn
from calibration.pose import PlaneFit, fit_plane
from calibration.refused import Refused

LEAST_PHOTOS = 3
LEAST_SPREAD_DEG = 15.0
"""The card must be seen from directions so far apart, or depth and focal length can't be told."""
MOST_U_F_REL = 0.01
"""A focal length less well known than this isn't worth keeping: 1 % is assumed anyway."""
WIDE_PRIOR = (0.5, 0.2)
"""Relative u of f and u of k1 for the first poses, wide enough to decide nothing."""
SIGMA_PX = 0.1
U_FOCUS_REL = 0.003
"""What focusing nearer or further changes of a phone's focal length (assumed; no source)."""


@dataclass(frozen=True, slots=True)
class CardCorners:
    """One photo's corners: seen, (N, 2) px, and printed, (N, 2) mm."""

    file: str
    corners_px: Array
    corners_mm: Array


@dataclass(frozen=True, slots=True)
class Profile:
    """A lens with the covariance of ``[ln f, cx, cy, k1, k2]``, (5, 5)."""

    camera: Camera
    covariance: Array
    rms_px: float
    spread_deg: float
    photos: int

    @property
    def u_f_rel(self) -> float:
        """Return the relative standard uncertainty of the focal length in these photos."""
        return float(np.sqrt(self.covariance[0, 0]))

    @property
    def u_f_rel_in_use(self) -> float:
        """Return the same for later photos, which may be focused elsewhere."""
        return float(np.hypot(self.u_f_rel, U_FOCUS_REL))


class ProfileRefused(Refused):
    """Why these photos give no lens."""


TILT_MORE = (
    "Take four to six photos of the card lying flat, the phone tilted about 30 degrees to the "
    "left, the right, up and down, the card filling the picture."
)


def fit_profile(
    views: Sequence[CardCorners], size_px: tuple[int, int], start: LensPrior
) -> Profile | ProfileRefused:
    """Return the lens that these photos of one phone at one zoom share.

    Parameters
    ----------
    views : each photo's corners, wrong ones included: they are left out
    size_px : width and height of every photo
    start : what is known beforehand; only to begin from

    Returns
    -------
    Profile, or ProfileRefused where there are too few photos or corners, the card is seen from
    directions too near each other, or the focal length stays too uncertain to be of use
    """
    if len(views) < LEAST_PHOTOS:
        return ProfileRefused(
            "too_few_photos",
            f"{len(views)} photos show the card; at least {LEAST_PHOTOS} are needed.",
            "One lens can't be told from so few.",
            TILT_MORE,
        )
    prior = LensPrior(start.camera, *WIDE_PRIOR, start.source)
    fits = [fit_plane(view.corners_px, view.corners_mm, prior) for view in views]
    refused = next((f for f in fits if not isinstance(f, PlaneFit)), None)
    if refused is not None:
        return ProfileRefused(refused.code, refused.seen, refused.means, refused.do)
    poses = [fit for fit in fits if isinstance(fit, PlaneFit)]
    spread = spread_deg(poses)
    if spread < LEAST_SPREAD_DEG:
        return ProfileRefused(
            "too_little_tilt",
            f"The card is seen from directions at most {spread:.0f} degrees apart.",
            f"Under {LEAST_SPREAD_DEG:.0f} degrees distance and focal length can't be told apart.",
            TILT_MORE,
        )
    found = _solved(views, poses, size_px, spread)
    if found.u_f_rel > MOST_U_F_REL:
        return ProfileRefused(
            "lens_too_uncertain",
            f"The focal length comes out to {100 * found.u_f_rel:.1f} % only.",
            "That is no better than what is assumed without a profile.",
            TILT_MORE,
        )
    return found


def spread_deg(poses: Sequence[PlaneFit]) -> float:
    """Return the largest angle between the directions from which the card is seen."""
    normals = np.array([turn(pose.rvec)[:, 2] for pose in poses])
    return float(np.rad2deg(np.arccos(np.clip((normals @ normals.T).min(), -1.0, 1.0))))


def _solved(
    views: Sequence[CardCorners],
    poses: Sequence[PlaneFit],
    size_px: tuple[int, int],
    spread: float,
) -> Profile:
    kept = [_right(view, pose) for view, pose in zip(views, poses, strict=True)]
    places = [np.column_stack([view.corners_mm, np.zeros(len(view.corners_mm))]) for view in kept]
    seen = [view.corners_px for view in kept]
    centre = (np.array(size_px) - 1) / 2
    focal = float(np.median([pose.camera.fx for pose in poses]))
    lens = np.array([np.log(focal), *centre, 0.0, 0.0])
    start = np.concatenate([lens, *(np.concatenate([p.rvec, p.tvec]) for p in poses)])

    def residuals(p: Array) -> Array:
        gaps = [
            _project(p[:5], p[5 + 6 * i : 11 + 6 * i], place)[0] - pixel
            for i, (place, pixel) in enumerate(zip(places, seen, strict=True))
        ]
        return np.concatenate([gap.ravel() for gap in gaps])

    def slope(p: Array) -> Array:
        rows = []
        for i, place in enumerate(places):
            block = np.zeros((2 * len(place), len(p)))
            _, by_lens, by_pose = _project(p[:5], p[5 + 6 * i : 11 + 6 * i], place)
            block[:, :5], block[:, 5 + 6 * i : 11 + 6 * i] = by_lens, by_pose
            rows.append(block)
        return np.concatenate(rows)

    solved = least_squares(residuals, start, slope, method="lm", x_scale="jac", xtol=1e-12)
    jacobian = slope(solved.x)
    left = residuals(solved.x)
    scatter = max(SIGMA_PX, float(np.sqrt(left @ left / max(left.size - start.size, 1))))
    covariance = scatter**2 * np.linalg.inv(jacobian.T @ jacobian)[:5, :5]
    f, (cx, cy, k1, k2) = float(np.exp(solved.x[0])), (float(v) for v in solved.x[1:5])
    rms = float(np.sqrt(np.mean(np.sum(left.reshape(-1, 2) ** 2, axis=1))))
    camera = Camera(f, f, cx, cy, (k1, k2, 0.0, 0.0, 0.0))
    return Profile(camera, np.asarray(covariance), rms, spread, len(views))


def _right(view: CardCorners, pose: PlaneFit) -> CardCorners:
    """Return the corners that lie where the photo's own pose has them."""
    places = np.column_stack([view.corners_mm, np.zeros(len(view.corners_mm))])
    gap = np.linalg.norm(view.corners_px - pose.project(places), axis=1)
    good = gap <= max(6.0 * 1.4826 * float(np.median(gap)), 1.0)
    return CardCorners(view.file, view.corners_px[good], view.corners_mm[good])


def _project(lens: Array, pose: Array, places: Array) -> tuple[Array, Array, Array]:
    """Return pixels, (N, 2), and their slopes by lens, (2N, 5), and pose, (2N, 6)."""
    f = float(np.exp(lens[0]))
    matrix = np.array([[f, 0.0, lens[1]], [0.0, f, lens[2]], [0.0, 0.0, 1.0]])
    dist = np.array([lens[3], lens[4], 0.0, 0.0, 0.0])
    points = np.ascontiguousarray(places).reshape(-1, 1, 3)
    seen, slope = cv2.projectPoints(points, pose[:3], pose[3:], matrix, dist)
    # OpenCV's columns: rvec, tvec, (fx, fy), (cx, cy), (k1, k2, ...)
    by_f = f * (slope[:, 6] + slope[:, 7])
    by_lens = np.column_stack([by_f, slope[:, 8:10], slope[:, 10:12]])
    return np.asarray(seen, dtype=np.float64).reshape(-1, 2), by_lens, np.asarray(slope[:, :6])
