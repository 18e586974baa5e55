"""Camera and pose from the card's corners, with their joint covariance.

Eight parameters: ``ln f, k1, rvec, tvec``.  Knowledge of the lens enters as two more
observations, so a length in the card's plane comes out right even where f is poorly known,
and what f leaves open about depth stands in the covariance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from calibration.frames import Array
from calibration.lens import Camera, LensPrior, project, turn, undistort
from calibration.refused import Refused

LEAST_CORNERS = 6
LEAST_SPREAD = 0.04
"""Least ratio of the corners' narrow to their wide spread (standard deviations)."""
LEAST_SPREAD_PX = 5.0
"""Least narrow spread of the corners in the photo (standard deviation, px)."""
RANSAC_PX, RANSAC_SPAN = 4.0, 0.004
"""A corner further off a homography is wrong; the share of their span leaves room for k1."""
OUTLIER_SIGMAS, OUTLIER_PX = 6.0, 0.5
"""A corner further off the fitted pose is wrong: in robust sigmas, and at least in px."""


class PoseRefused(Refused):
    """Why no pose can be had."""


@dataclass(frozen=True, slots=True)
class PlaneFit:
    """A camera before the card.

    ``rvec, tvec`` take the card frame (mm) to the camera's; ``covariance`` is that of
    ``[ln f, k1, rvec, tvec]``, (8, 8); ``rms_px`` the corners' root mean square residual.
    """

    camera: Camera
    rvec: Array
    tvec: Array
    covariance: Array
    rms_px: float
    corners: int

    @property
    def parameters(self) -> Array:
        """Return ``[ln f, k1, rvec, tvec]``, (8,)."""
        start = [np.log(self.camera.fx), self.camera.coefficients[0]]
        return np.concatenate([start, self.rvec, self.tvec])

    @property
    def centre_mm(self) -> Array:
        """Return the camera's centre in the card frame, (3,) mm."""
        return np.asarray(-turn(self.rvec).T @ self.tvec)

    def with_parameters(self, parameters: Array) -> PlaneFit:
        """Return the same fit at other values of its eight parameters."""
        camera = _camera_at(self.camera, parameters)
        return replace(self, camera=camera, rvec=parameters[2:5], tvec=parameters[5:8])

    def project(self, points_mm: Array) -> Array:
        """Return where points of the card frame, (N, 3) mm, are seen, (N, 2) px."""
        seen, _ = project(self.camera, self.rvec, self.tvec, points_mm)
        return seen

    def on_plane(self, points_px: Array, height_mm: float = 0.0) -> Array:
        """Return where pixels' rays meet the plane ``height_mm`` before the card.

        Parameters
        ----------
        points_px : (N, 2) array
        height_mm : float
            Toward the viewer, so the plane is z = -height.

        Returns
        -------
        (N, 2) array, mm, card frame
        """
        ideal = undistort(self.camera, points_px)
        rays = np.column_stack([ideal, np.ones(len(ideal))]) @ turn(self.rvec)
        centre = self.centre_mm
        reach = (-height_mm - centre[2]) / rays[:, 2]
        return np.asarray(centre[:2] + reach[:, None] * rays[:, :2])


def fit_plane(
    corners_px: Array, corners_mm: Array, prior: LensPrior, *, sigma_px: float = 0.1
) -> PlaneFit | PoseRefused:
    """Return the camera and pose that the corners and the prior give.

    Parameters
    ----------
    corners_px, corners_mm : (N, 2) arrays
        Seen and printed places; wrong ones are left out, by RANSAC and then by their residuals.
    prior : what is known of the lens
    sigma_px : least standard uncertainty of a corner, each axis; a larger scatter of the
        residuals takes its place

    Returns
    -------
    PlaneFit, or PoseRefused where the corners are too few, in a line, too near each other,
    seen from behind, or of no plane
    """
    if refused := _too_little(corners_px, corners_mm):
        return refused
    ideal = undistort(prior.camera, corners_px)
    span = float(np.ptp(corners_px, axis=0).max())
    within = max(RANSAC_PX, RANSAC_SPAN * span) / prior.camera.fx
    _, kept = cv2.findHomography(corners_mm, ideal, cv2.RANSAC, within)
    if kept is None:
        return _unfit(len(corners_mm))
    inlier = kept.ravel().astype(bool)
    seen, places = corners_px[inlier], corners_mm[inlier]
    if refused := _too_little(seen, places):
        return refused
    fit = refine_pose(seen, places, prior, sigma_px)
    if isinstance(fit, PoseRefused):
        return fit
    right = _right_corners(fit, seen, places)
    if right.all() or _too_little(seen[right], places[right]):
        return fit
    return refine_pose(seen[right], places[right], prior, sigma_px)


def refine_pose(
    corners_px: Array, corners_mm: Array, prior: LensPrior, sigma_px: float
) -> PlaneFit | PoseRefused:
    """Return the best pose for corners that are known to be right, (N, 2) each, N >= 4."""
    places, count = _lift(corners_mm), len(corners_mm)
    starts = _starts(places, undistort(prior.camera, corners_px))
    if not starts:
        return _unfit(count)
    facing = [(rvec, tvec) for rvec, tvec in starts if (turn(rvec).T @ tvec)[2] > 0]
    if not facing:
        return _behind(count)
    problem = _Problem(corners_px, places, prior)
    best = min((problem.solve(start, sigma_px) for start in facing), key=lambda found: found.cost)
    scatter = problem.scatter_px(best.at)
    if scatter <= sigma_px:
        return problem.fit(best.at, sigma_px)
    # The corners are worse than told: the lens's prior weighs more against them.
    best = problem.solve((best.at[2:5], best.at[5:8]), scatter)
    return problem.fit(best.at, max(sigma_px, problem.scatter_px(best.at)))


def _right_corners(fit: PlaneFit, corners_px: Array, corners_mm: Array) -> NDArray[np.bool_]:
    """Return which corners lie where the fit has them, by their own robust scatter."""
    gap = corners_px - fit.project(_lift(corners_mm))
    sigma = 1.4826 * float(np.median(np.abs(gap)))
    return np.asarray(np.linalg.norm(gap, axis=1) <= max(OUTLIER_SIGMAS * sigma, OUTLIER_PX))


def _too_little(corners_px: Array, corners_mm: Array) -> PoseRefused | None:
    count = len(corners_mm)
    if count < LEAST_CORNERS:
        return PoseRefused(
            "too_few_corners",
            f"{count} corners of the card are seen, at least {LEAST_CORNERS} are needed.",
            "The pose can't be told.",
            "Uncover the card and take the photo again.",
        )
    wide, narrow = _spread(corners_mm)
    if narrow < LEAST_SPREAD * wide:
        return PoseRefused(
            "corners_in_a_line",
            f"The {count} corners that are seen lie in one line.",
            "The card's tilt can't be told from them.",
            "Uncover more of the card and take the photo again.",
        )
    _, narrow_px = _spread(corners_px)
    if narrow_px < LEAST_SPREAD_PX:
        return PoseRefused(
            "card_too_small",
            f"The {count} corners that are seen lie within {4 * narrow_px:.0f} px.",
            "The card is too small in the photo, or seen edge-on, to tell its scale.",
            "Hold the phone 250 to 300 mm away, square to the card, and take the photo again.",
        )
    return None


def _spread(points: Array) -> tuple[float, float]:
    """Return the points' standard deviations along their widest and narrowest direction."""
    wide, narrow = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
    return float(wide / np.sqrt(len(points))), float(narrow / np.sqrt(len(points)))


def _unfit(count: int) -> PoseRefused:
    return PoseRefused(
        "no_pose",
        f"{count} corners are seen, but no pose fits them.",
        "The card is bent, or it isn't the printed one.",
        "Lay the card flat and take the photo again.",
    )


def _behind(count: int) -> PoseRefused:
    return PoseRefused(
        "seen_from_behind",
        f"The {count} corners that are seen run round the wrong way.",
        "The card is seen from behind or the photo is mirrored.",
        "Turn the printed side to the phone and use its back camera.",
    )


def _lift(points_mm: Array) -> Array:
    return np.column_stack([points_mm, np.zeros(len(points_mm))])


def _starts(places: Array, ideal: Array) -> list[tuple[Array, Array]]:
    """Return the poses, up to two, that a plane's picture allows."""
    found, rvecs, tvecs, _ = cv2.solvePnPGeneric(
        places, ideal, np.eye(3), None, flags=cv2.SOLVEPNP_IPPE
    )
    pairs = zip(rvecs, tvecs, strict=True) if found else ()
    poses = [
        (np.asarray(r, dtype=np.float64).ravel(), np.asarray(t, dtype=np.float64).ravel())
        for r, t in pairs
    ]
    return [(r, t) for r, t in poses if t[2] > 0 and np.isfinite([*r, *t]).all()]


@dataclass(frozen=True, slots=True)
class _Solved:
    at: Array
    cost: float


@dataclass(frozen=True, slots=True)
class _Problem:
    """Least squares over ``[ln f, k1, rvec, tvec]``: the corners, and the lens's prior."""

    seen: Array
    places: Array
    prior: LensPrior

    @property
    def known(self) -> Array:
        """Return the prior's ln f and k1."""
        camera = self.prior.camera
        return np.array([np.log(camera.fx), camera.coefficients[0]])

    @property
    def weight(self) -> Array:
        return 1.0 / np.maximum([self.prior.u_f_rel, self.prior.u_k1], 1e-6)

    def gaps_px(self, p: Array) -> Array:
        pixels, _ = project(_camera_at(self.prior.camera, p), p[2:5], p[5:8], self.places)
        return pixels - self.seen

    def jacobian(self, p: Array, sigma_px: float) -> Array:
        _, slope = project(_camera_at(self.prior.camera, p), p[2:5], p[5:8], self.places)
        lens = np.zeros((2, 8))
        lens[0, 0], lens[1, 1] = self.weight
        return np.vstack([slope / sigma_px, lens])

    def solve(self, start: tuple[Array, Array], sigma_px: float) -> _Solved:
        def residuals(p: Array) -> Array:
            lens = (p[:2] - self.known) * self.weight
            return np.concatenate([self.gaps_px(p).ravel() / sigma_px, lens])

        slope = partial(self.jacobian, sigma_px=sigma_px)
        p = np.concatenate([self.known, *start])
        solved = least_squares(residuals, p, slope, method="lm", x_scale="jac", xtol=1e-12)
        return _Solved(np.asarray(solved.x, dtype=np.float64), float(solved.cost))

    def scatter_px(self, p: Array) -> float:
        """Return the corners' standard deviation, each axis; a pose takes six of them up."""
        gaps = self.gaps_px(p)
        return float(np.sqrt(np.sum(gaps**2) / max(gaps.size - 6, 1)))

    def fit(self, p: Array, sigma_px: float) -> PlaneFit:
        slope = self.jacobian(p, sigma_px)
        covariance = np.asarray(np.linalg.inv(slope.T @ slope), dtype=np.float64)
        rms = float(np.sqrt(np.mean(np.sum(self.gaps_px(p) ** 2, axis=1))))
        camera = _camera_at(self.prior.camera, p)
        return PlaneFit(camera, p[2:5], p[5:8], covariance, rms, len(self.seen))


def _camera_at(camera: Camera, p: Array) -> Camera:
    fx = float(np.exp(p[0]))
    fy = fx * camera.fy / camera.fx
    dist = (float(p[1]), *camera.coefficients[1:].tolist())
    return Camera(fx, fy, camera.cx, camera.cy, dist)
