"""Camera geometry against closed forms, a published observation, and OpenCV on random cameras."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.card import FRAME
from calibration.frames import Array
from calibration.lens import Camera, LensPrior, undistort
from calibration.pose import PlaneFit, fit_plane

CORNERS = FRAME.corners_mm(FRAME.corner_ids)
SEEDS = range(6)


def square_on(distance_mm: float, tilt_deg: float = 0.0, focal: float = 3200.0) -> PlaneFit:
    """Return a camera before the card's origin, the card turned about its own x axis."""
    camera = Camera(focal, focal, 1999.5, 1499.5)
    rvec, tvec = np.array([np.deg2rad(tilt_deg), 0, 0]), np.array([0, 0, distance_mm])
    return PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 58)


def too_long_percent(nearer_mm: float, distance_mm: float) -> float:
    """Return how much too long a length before the card is read in the card's plane, %."""
    fit = square_on(distance_mm)
    ends = np.array([[-5.0, 0.0, -nearer_mm], [5.0, 0.0, -nearer_mm]])
    a, b = fit.on_plane(fit.project(ends))
    return (float(np.linalg.norm(b - a)) / 10.0 - 1.0) * 100.0


@pytest.mark.published(
    source="definition of central projection: apparent size is Z / (Z - d), computed",
    where="error d / (Z - d)",
)
@pytest.mark.parametrize(
    ("nearer", "distance", "percent"),
    [
        (10.0, 200.0, 5.26),
        (10.0, 300.0, 3.45),
        (10.0, 400.0, 2.56),
        (10.0, 500.0, 2.04),
        (5.0, 500.0, 1.01),
        (20.0, 300.0, 7.14),
    ],
)
def test_what_is_nearer_than_the_card_reads_long_by_d_over_z_less_d(
    nearer: float, distance: float, percent: float
) -> None:
    assert too_long_percent(nearer, distance) == pytest.approx(percent, abs=0.005)


@pytest.mark.published(
    source="definition of central projection: apparent size is Z / (Z + d), computed",
    where="error -d / (Z + d)",
)
def test_what_is_further_than_the_card_reads_short() -> None:
    assert too_long_percent(-10.0, 300.0) == pytest.approx(-100 * 10 / 310, abs=1e-6)


@pytest.mark.published(
    source="Stephan, Forensic Science International, 2015",
    where="two lengths of 179 mm, 127 mm apart: over 5 % below 2.5 m, about 1 % at 12 m",
)
def test_two_lengths_at_different_depths_differ_as_was_published() -> None:
    # The nearer is the plane of scale; the further one reads short by d / (Z + d).
    assert 4.8 < -too_long_percent(-127.0, 2500.0 - 127.0) < 5.3
    assert -too_long_percent(-127.0, 2000.0) > 5.0
    assert -too_long_percent(-127.0, 12_000.0) == pytest.approx(1.0, abs=0.1)


@pytest.mark.published(
    source="definition of the cosine, weak perspective, computed", where="1 - cos t, %"
)
@pytest.mark.parametrize(
    ("tilt", "percent"),
    [(5, 0.38), (8, 0.97), (10, 1.52), (15, 3.41), (20, 6.03), (25, 9.37), (30, 13.40)],
)
def test_a_tilted_length_is_foreshortened_by_the_cosine(tilt: float, percent: float) -> None:
    far, focal = 1e6, 1e8  # so far that perspective within the length is nothing
    fit = square_on(far, tilt, focal)
    a, b = fit.project(np.array([[0.0, -5.0, 0.0], [0.0, 5.0, 0.0]]))
    apparent = float(np.linalg.norm(b - a)) / (10.0 * focal / far)
    assert (1 - apparent) * 100 == pytest.approx(percent, abs=0.005)


def random_camera(seed: int) -> tuple[Camera, Array, Array]:
    rng = np.random.default_rng(seed)
    f = rng.uniform(1500, 4000)
    dist = rng.uniform([-0.1, -0.03, -0.002, -0.002, -0.01], [0.1, 0.03, 0.002, 0.002, 0.01])
    centre = rng.uniform([950, 700], [1050, 800])
    camera = Camera(f, f * rng.uniform(0.99, 1.01), *centre, tuple(dist.tolist()))
    rvec = rng.uniform([-0.5, -0.5, -3], [0.5, 0.5, 3])
    matrix = cv2.Rodrigues(rvec)[0]
    tvec = np.array([*rng.uniform(-15, 15, 2), rng.uniform(200, 400)]) - matrix @ [69.0, 55.0, 0.0]
    return camera, rvec, tvec


def opencv_seen(camera: Camera, rvec: Array, tvec: Array, points: Array) -> Array:
    out, _ = cv2.projectPoints(points, rvec, tvec, camera.matrix, camera.coefficients)
    return np.asarray(out, dtype=np.float64).reshape(-1, 2)


def flat(points: Array) -> Array:
    return np.column_stack([points, np.zeros(len(points))])


@pytest.mark.published(source="OpenCV 5, calib3d", where="projectPoints")
@pytest.mark.parametrize("seed", SEEDS)
def test_points_are_seen_where_opencv_sees_them_and_found_again(seed: int) -> None:
    camera, rvec, tvec = random_camera(seed)
    fit = PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 58)
    there = flat(np.random.default_rng(seed).uniform([0, 0], [138, 111], (60, 2)))
    there[:, 2] = -9.0
    seen = opencv_seen(camera, rvec, tvec, there)
    assert np.abs(fit.project(there) - seen).max() < 1e-9
    assert np.abs(fit.on_plane(seen, 9.0) - there[:, :2]).max() < 1e-9


@pytest.mark.published(source="OpenCV 5, calib3d", where="undistortPoints, 200 iterations")
@pytest.mark.parametrize("seed", SEEDS)
def test_undistortion_is_opencvs(seed: int) -> None:
    camera, rvec, tvec = random_camera(seed)
    seen = opencv_seen(camera, rvec, tvec, flat(CORNERS))
    until = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 200, 1e-15)
    theirs = cv2.undistortPoints(seen, camera.matrix, camera.coefficients, criteria=until)
    assert np.abs(undistort(camera, seen) - theirs.reshape(-1, 2)).max() < 1e-9


@pytest.mark.published(source="OpenCV 5, calib3d", where="findHomography on ideal points")
@pytest.mark.parametrize("seed", SEEDS)
def test_the_plane_is_opencvs_homography(seed: int) -> None:
    camera, rvec, tvec = random_camera(seed)
    ideal = opencv_seen(Camera(1.0, 1.0, 0.0, 0.0), rvec, tvec, flat(CORNERS))
    back, _ = cv2.findHomography(ideal, CORNERS)
    there = np.random.default_rng(seed).uniform([0, 0], [138, 111], (40, 2))
    seen = opencv_seen(camera, rvec, tvec, flat(there))
    theirs = cv2.perspectiveTransform(undistort(camera, seen)[None], back)[0]
    fit = PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 58)
    # The homography is itself a fit, to about 1e-7 mm.
    assert np.abs(fit.on_plane(seen) - theirs).max() < 1e-5


@pytest.mark.published(source="OpenCV 5, calib3d", where="solvePnP, ITERATIVE")
@pytest.mark.parametrize("seed", SEEDS)
def test_with_a_sure_lens_the_pose_is_opencvs_on_the_same_noisy_corners(seed: int) -> None:
    camera, rvec, tvec = random_camera(seed)
    noise = np.random.default_rng(seed).normal(0, 0.2, CORNERS.shape)
    seen = opencv_seen(camera, rvec, tvec, flat(CORNERS)) + noise
    _, r, t = cv2.solvePnP(flat(CORNERS), seen, camera.matrix, camera.coefficients)
    fit = fit_plane(seen, CORNERS, LensPrior(camera, 1e-6, 1e-6, "given"), sigma_px=0.2)
    assert isinstance(fit, PlaneFit)
    assert fit.corners == len(CORNERS)
    # Both minimise the same squares; OpenCV stops within about 1e-5 of the minimum.
    assert cv2.Rodrigues(fit.rvec)[0] == pytest.approx(cv2.Rodrigues(r)[0], abs=2e-5)
    assert fit.tvec == pytest.approx(t.ravel(), abs=5e-3)
