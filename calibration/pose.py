"""Camera and pose from the card's corners, with their joint covariance.

Eight parameters: ``ln f, k1, rvec, tvec``.  Knowledge of the lens enters as two more
observations, so a length in the card's plane comes out right even where f is poorly known,
and what f leaves open about depth stands in the covariance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from scipy.optimize import least_squares

from calibration.frames import Array
from calibration.lens import Camera, LensPrior

LEAST_CORNERS = 6
LEAST_SPREAD = 0.04
"""Least ratio of the corners' narrow to their wide spread (standard deviations)."""
RANSAC_PX = 4.0


@dataclass(frozen=True, slots=True)
class PoseRefused:
    """Why no pose can be had: what was seen, what it means, what to do."""

    code: str
    seen: str
    means: str
    do: str

    @property
    def sentence(self) -> str:
        """Return the three as one text."""
        return f"{self.seen} {self.means} {self.do}"


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
        start = [np.log(self.camera.fx), _dist(self.camera)[0]]
        return np.concatenate([start, self.rvec, self.tvec])

    @property
    def centre_mm(self) -> Array:
        """Return the camera's centre in the card frame, (3,) mm."""
        return np.asarray(-_turn(self.rvec).T @ self.tvec)

    def with_parameters(self, parameters: Array) -> PlaneFit:
        """Return the same fit at other values of its eight parameters."""
        camera = _camera_at(self.camera, parameters)
        return replace(self, camera=camera, rvec=parameters[2:5], tvec=parameters[5:8])

    def project(self, points_mm: Array) -> Array:
        """Return where points of the card frame, (N, 3) mm, are seen, (N, 2) px."""
        seen, _ = _project(self.camera, self.rvec, self.tvec, points_mm)
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
        rays = np.column_stack([ideal, np.ones(len(ideal))]) @ _turn(self.rvec)
        centre = self.centre_mm
        reach = (-height_mm - centre[2]) / rays[:, 2]
        return np.asarray(centre[:2] + reach[:, None] * rays[:, :2])


def undistort(camera: Camera, points_px: Array) -> Array:
    """Return ideal normalised image coordinates, (N, 2), of distorted pixels, (N, 2).

    Fixed-point iteration on OpenCV's model, to about 1e-12.
    """
    k1, k2, p1, p2, k3 = _dist(camera)
    seen = (points_px - [camera.cx, camera.cy]) / [camera.fx, camera.fy]
    ideal = seen.copy()
    for _ in range(60):
        x, y = ideal[:, 0], ideal[:, 1]
        r2 = x * x + y * y
        radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
        shift = np.column_stack(
            [
                2 * p1 * x * y + p2 * (r2 + 2 * x * x),
                p1 * (r2 + 2 * y * y) + 2 * p2 * x * y,
            ]
        )
        before, ideal = ideal, (seen - shift) / radial[:, None]
        if np.abs(ideal - before).max(initial=0.0) < 1e-13:
            break
    return ideal


def fit_plane(
    corners_px: Array, corners_mm: Array, prior: LensPrior, *, sigma_px: float = 0.1
) -> PlaneFit | PoseRefused:
    """Return the camera and pose that the corners and the prior give.

    Parameters
    ----------
    corners_px, corners_mm : (N, 2) arrays
        Seen and printed places; wrong ones are left out by RANSAC.
    prior : what is known of the lens
    sigma_px : least standard uncertainty of a corner, each axis; a larger scatter of the
        residuals takes its place
    """
    refused = _too_little(corners_mm)
    if refused is not None:
        return refused
    ideal = undistort(prior.camera, corners_px)
    within = RANSAC_PX / prior.camera.fx * max(1.0, np.ptp(corners_px) / 1000)
    _, kept = cv2.findHomography(corners_mm, ideal, cv2.RANSAC, within)
    if kept is None:
        return _unfit(len(corners_mm))
    inlier = kept.ravel().astype(bool)
    refused = _too_little(corners_mm[inlier])
    if refused is not None:
        return refused
    return refine_pose(corners_px[inlier], corners_mm[inlier], prior, sigma_px)


def refine_pose(
    corners_px: Array, corners_mm: Array, prior: LensPrior, sigma_px: float
) -> PlaneFit | PoseRefused:
    """Return the best pose for corners that are known to be right, (N, 2) each, N >= 4."""
    places = _lift(corners_mm)
    starts = _starts(places, undistort(prior.camera, corners_px))
    if not starts:
        return _unfit(len(corners_mm))
    fits = [_refine(corners_px, places, prior, start, sigma_px) for start in starts]
    return min(fits, key=lambda fit: fit.rms_px)


def _too_little(corners_mm: Array) -> PoseRefused | None:
    count = len(corners_mm)
    if count < LEAST_CORNERS:
        return PoseRefused(
            "too_few_corners",
            f"{count} corners of the card are seen, at least {LEAST_CORNERS} are needed.",
            "The pose can't be told.",
            "Uncover the card and take the photo again.",
        )
    values = np.linalg.svd(corners_mm - corners_mm.mean(axis=0), compute_uv=False)
    if values[1] < LEAST_SPREAD * values[0]:
        return PoseRefused(
            "corners_in_a_line",
            f"The {count} corners that are seen lie in one line.",
            "The card's tilt can't be told from them.",
            "Uncover more of the card and take the photo again.",
        )
    return None


def _unfit(count: int) -> PoseRefused:
    return PoseRefused(
        "no_pose",
        f"{count} corners are seen, but no pose fits them.",
        "The card is bent, or it isn't the printed one.",
        "Lay the card flat and take the photo again.",
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


def _refine(
    seen: Array,
    places: Array,
    prior: LensPrior,
    start: tuple[Array, Array],
    sigma_px: float,
) -> PlaneFit:
    camera = prior.camera
    known = np.array([np.log(camera.fx), _dist(camera)[0]])
    weight = 1.0 / np.array([max(prior.u_f_rel, 1e-6), max(prior.u_k1, 1e-6)])

    def residuals(p: Array) -> Array:
        pixels, _ = _project(_camera_at(camera, p), p[2:5], p[5:8], places)
        return np.concatenate([(pixels - seen).ravel() / sigma, (p[:2] - known) * weight])

    def jacobian(p: Array) -> Array:
        _, slope = _project(_camera_at(camera, p), p[2:5], p[5:8], places)
        lens = np.zeros((2, 8))
        lens[0, 0], lens[1, 1] = weight
        return np.vstack([slope / sigma, lens])

    p = np.concatenate([known, *start])
    sigma = sigma_px
    for _ in range(2):  # the second time with the corners' own scatter
        solved = least_squares(residuals, p, jacobian, method="lm", x_scale="jac", xtol=1e-12)
        p = solved.x
        gap = (solved.fun[:-2] * sigma).reshape(-1, 2)
        free = max(gap.size - 6, 1)
        scatter = float(np.sqrt(np.sum(gap**2) / free))
        if scatter <= sigma_px:
            break
        sigma = scatter
    slope = jacobian(p)
    covariance = np.asarray(np.linalg.inv(slope.T @ slope), dtype=np.float64)
    rms = float(np.sqrt(np.mean(np.sum(gap**2, axis=1))))
    return PlaneFit(_camera_at(camera, p), p[2:5], p[5:8], covariance, rms, len(seen))


def _dist(camera: Camera) -> tuple[float, ...]:
    return (*camera.dist, 0.0, 0.0, 0.0, 0.0, 0.0)[:5]


def _camera_at(camera: Camera, p: Array) -> Camera:
    fx = float(np.exp(p[0]))
    fy = fx * camera.fy / camera.fx
    return Camera(fx, fy, camera.cx, camera.cy, (float(p[1]), *_dist(camera)[1:]))


def _turn(rvec: Array) -> Array:
    return np.asarray(cv2.Rodrigues(np.asarray(rvec, dtype=np.float64))[0])


def _project(camera: Camera, rvec: Array, tvec: Array, points_mm: Array) -> tuple[Array, Array]:
    """Return pixels, (N, 2), and their slope by the eight parameters, (2N, 8)."""
    matrix = np.array([[camera.fx, 0, camera.cx], [0, camera.fy, camera.cy], [0, 0, 1.0]])
    points = np.ascontiguousarray(points_mm, dtype=np.float64).reshape(-1, 1, 3)
    seen, slope = cv2.projectPoints(points, rvec, tvec, matrix, np.array(_dist(camera)))
    by_f = slope[:, 6] * camera.fx + slope[:, 7] * camera.fy
    columns = np.column_stack([by_f, slope[:, 10], slope[:, 0:6]])
    return np.asarray(seen, dtype=np.float64).reshape(-1, 2), columns
