"""Camera geometry against printed figures, closed forms and OpenCV."""

import cv2
import numpy as np
import pytest

from calibration.fallback import id1_fit, ruler_fit
from calibration.lens import Camera, LensPrior, undistort
from calibration.pose import PlaneFit, PoseRefused, fit_plane

FOCAL = 3000.0
CAMERA = Camera(FOCAL, FOCAL, 1999.5, 1499.5, (0.0,) * 5)
GRID = np.array([[x, y] for x in range(0, 127, 9) for y in range(0, 100, 9)], dtype=float)


def square_on(distance_mm: float, tilt_deg: float = 0.0) -> PlaneFit:
    """Return the exact fit of a card seen at a distance, turned about its vertical."""
    rvec = np.array([0.0, np.deg2rad(tilt_deg), 0.0])
    tvec = np.array([0.0, 0.0, distance_mm])
    return PlaneFit(CAMERA, rvec, tvec, np.zeros((8, 8)), 0.0, 100)


@pytest.mark.published(
    source="closed form d/(Z-d); the approximation d/Z is Stephan, Forensic Sci Int 2015",
    where="10 mm at 200, 300, 400, 500 mm; 20 mm at 300 mm",
)
@pytest.mark.parametrize(
    ("nearer_mm", "distance_mm", "percent"),
    [(10, 200, 5.26), (10, 300, 3.45), (10, 400, 2.56), (10, 500, 2.04), (20, 300, 7.14)],
)
def test_what_is_nearer_than_the_card_looks_larger(nearer_mm, distance_mm, percent) -> None:
    fit = square_on(distance_mm)
    ends = fit.project(np.array([[-3.5, 0.0, -nearer_mm], [3.5, 0.0, -nearer_mm]]))
    naive, true = (np.ptp(fit.on_plane(ends, height)[:, 0]) for height in (0.0, nearer_mm))
    assert true == pytest.approx(7.0, abs=1e-9)
    assert 100 * (naive / true - 1) == pytest.approx(percent, abs=0.005)


@pytest.mark.published(source="closed form: cosine foreshortening", where="5 to 30 degrees")
@pytest.mark.parametrize(
    ("tilt_deg", "percent"),
    [(5, 0.38), (8, 0.97), (10, 1.52), (15, 3.41), (20, 6.03), (25, 9.37), (30, 13.40)],
)
def test_a_tilted_length_is_foreshortened_by_the_cosine(tilt_deg, percent) -> None:
    far = 1e6  # weak perspective: so far away that only the tilt is left
    fit = square_on(far, tilt_deg)
    seen = fit.project(np.array([[-3.5, 0.0, 0.0], [3.5, 0.0, 0.0]]))
    apparent = np.ptp(seen[:, 0]) * far / FOCAL
    assert 100 * (1 - apparent / 7.0) == pytest.approx(percent, abs=0.006)
    assert np.ptp(fit.on_plane(seen)[:, 0]) == pytest.approx(7.0, abs=1e-5)


def random_camera(rng: np.random.Generator) -> tuple[Camera, np.ndarray, np.ndarray]:
    focal = rng.uniform(1500, 4000)
    dist = (rng.uniform(-0.05, 0.05), rng.uniform(-0.02, 0.02), *rng.uniform(-1e-3, 1e-3, 2), 0.0)
    camera = Camera(focal, focal * rng.uniform(0.99, 1.01), 1999.5, 1499.5, dist)
    rvec = rng.uniform(-0.35, 0.35, 3)
    tvec = np.array([rng.uniform(-80, -50), rng.uniform(-60, -30), rng.uniform(180, 400)])
    return camera, rvec, tvec


def opencv(camera: Camera) -> tuple[np.ndarray, np.ndarray]:
    matrix = np.array([[camera.fx, 0, camera.cx], [0, camera.fy, camera.cy], [0, 0, 1.0]])
    return matrix, np.array(camera.dist)


@pytest.mark.published(source="OpenCV", where="projectPoints, undistortPoints on random cameras")
@pytest.mark.parametrize("seed", range(8))
def test_projection_and_undistortion_agree_with_opencv(seed: int) -> None:
    rng = np.random.default_rng(seed)
    camera, rvec, tvec = random_camera(rng)
    matrix, dist = opencv(camera)
    fit = PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 0)
    points = np.column_stack([GRID, rng.uniform(-12, 5, len(GRID))])
    seen, _ = cv2.projectPoints(points, rvec, tvec, matrix, dist)
    np.testing.assert_allclose(fit.project(points), seen.reshape(-1, 2), atol=1e-8)
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 200, 1e-14)
    ideal = cv2.undistortPoints(seen, matrix, dist, criteria=criteria).reshape(-1, 2)
    np.testing.assert_allclose(undistort(camera, seen.reshape(-1, 2)), ideal, atol=1e-9)


@pytest.mark.published(source="OpenCV", where="homography and solvePnP on random cameras")
@pytest.mark.parametrize("seed", range(8))
def test_homography_and_pose_agree_with_opencv(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    camera, rvec, tvec = random_camera(rng)
    matrix, dist = opencv(camera)
    flat = np.column_stack([GRID, np.zeros(len(GRID))])
    seen = cv2.projectPoints(flat, rvec, tvec, matrix, dist)[0].reshape(-1, 2)
    fit = fit_plane(seen, GRID, LensPrior(camera, 0.01, 0.01, "given"))
    assert isinstance(fit, PlaneFit)
    _, r, t = cv2.solvePnP(flat, seen, matrix, dist, flags=cv2.SOLVEPNP_ITERATIVE)
    np.testing.assert_allclose(fit.rvec, r.ravel(), atol=1e-5)
    np.testing.assert_allclose(fit.tvec, t.ravel(), atol=2e-3)
    ideal = cv2.undistortPoints(seen, matrix, dist).reshape(-1, 2)
    homography, _ = cv2.findHomography(ideal, GRID)
    places = cv2.perspectiveTransform(ideal[None], homography)[0]
    np.testing.assert_allclose(fit.on_plane(seen), places, atol=1e-3)


@pytest.mark.published(source="JCGM 101:2008", where="the covariance against a hundred refits")
def test_the_covariance_says_how_far_refits_scatter() -> None:
    rng = np.random.default_rng(5)
    matrix, dist = opencv(CAMERA)
    rvec, tvec = np.array([0.15, -0.1, 0.02]), np.array([-63.0, -50.0, 260.0])
    flat = np.column_stack([GRID, np.zeros(len(GRID))])
    exact = cv2.projectPoints(flat, rvec, tvec, matrix, dist)[0].reshape(-1, 2)
    fits = []
    for _ in range(100):
        focal = FOCAL * (1 + 0.03 * rng.standard_normal())
        told = Camera(focal, focal, CAMERA.cx, CAMERA.cy, (0.0,) * 5)
        noisy = exact + 0.1 * rng.standard_normal(exact.shape)
        fit = fit_plane(noisy, GRID, LensPrior(told, 0.03, 1e-4, "exif"))
        assert isinstance(fit, PlaneFit)
        fits.append(fit)
    found = np.array([fit.parameters for fit in fits])
    stated = np.sqrt(np.mean([np.diag(fit.covariance) for fit in fits], axis=0))
    ratio = found.std(axis=0, ddof=1) / stated
    # A standard deviation from 100 values is known to 7 %; k1 is held by its prior.
    assert np.abs(np.delete(ratio, 1) - 1).max() < 0.25


@pytest.mark.published(
    source="OpenCV's documentation of solvePnP", where="a plane needs points off one line"
)
def test_corners_in_a_line_and_too_few_are_refused() -> None:
    prior = LensPrior(CAMERA, 0.03, 0.05, "exif")
    line = np.column_stack([np.arange(0, 90, 9.0), np.zeros(10)])
    refused = fit_plane(line * 10 + 500, line, prior)
    assert isinstance(refused, PoseRefused)
    assert "line" in refused.seen
    few = fit_plane(GRID[:4] * 10, GRID[:4], prior)
    assert isinstance(few, PoseRefused)


@pytest.mark.published(source="ISO/IEC 7810, by an encyclopedia", where="85.60 x 53.98 mm")
def test_a_bank_cards_edges_give_its_millimetres() -> None:
    matrix, dist = opencv(CAMERA)
    rvec, tvec = np.array([0.1, 0.12, 0.05]), np.array([-43.0, -27.0, 270.0])
    width, height = 85.60, 53.98
    inner = 8.0  # edges are marked away from the rounded corners
    edges = np.array(
        [
            [[inner, 0], [width - inner, 0]],
            [[width, inner], [width, height - inner]],
            [[width - inner, height], [inner, height]],
            [[0, height - inner], [0, inner]],
        ]
    )
    flat = np.column_stack([edges.reshape(-1, 2), np.zeros(8)])
    seen = cv2.projectPoints(flat, rvec, tvec, matrix, dist)[0].reshape(4, 2, 2)
    fit = id1_fit(seen, LensPrior(CAMERA, 0.03, 0.05, "exif"))
    assert isinstance(fit, PlaneFit)
    np.testing.assert_allclose(fit.on_plane(seen.reshape(-1, 2)), flat[:, :2], atol=0.02)


@pytest.mark.published(source="pinhole camera, closed form", where="distance = f L / l")
def test_a_rulers_points_give_scale_and_distance() -> None:
    middle = np.array([CAMERA.cx, CAMERA.cy])  # where the line of sight is the lens's axis
    points = middle + np.array([[-300.0, 0.0], [300.0, 0.0]])
    fit = ruler_fit(points, 50.0, 0.2, LensPrior(CAMERA, 0.03, 0.05, "exif"))
    assert isinstance(fit, PlaneFit)
    assert np.linalg.norm(np.diff(fit.on_plane(points), axis=0)) == pytest.approx(50.0)
    assert fit.tvec[2] == pytest.approx(FOCAL * 50.0 / 600.0)
