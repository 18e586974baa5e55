"""Several views against OpenCV, scipy and repeated refits."""

import cv2
import numpy as np
import pytest
from scipy.optimize import least_squares

from calibration.epipolar import epipolar_line, nearest_on_line
from calibration.joint_problem import LEVER_MM, U_CENTRE, PrintPrior
from calibration.lens import Camera, turn, undistort
from calibration.pose import PlaneFit
from calibration.rays import meeting
from calibration.views import ViewsSolved, measure_views
from tests.dot_sets import dot_set, projected

U_SHIFT = 0.6
PRINT = PrintPrior((0.0005, 0.0007), 0.0)


def random_pair(rng: np.random.Generator, k1: float) -> tuple[PlaneFit, PlaneFit]:
    focal = rng.uniform(2500, 3500)
    camera = Camera(focal, focal, 1999.5, 1499.5, (k1, 0.01 if k1 else 0.0))
    fits = []
    for _ in range(2):
        rvec = rng.uniform(-0.5, 0.5, 3)
        tvec = np.array([*rng.uniform(-30, 30, 2), rng.uniform(200, 350)])
        fits.append(PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 0))
    return fits[0], fits[1]


def matrix(fit: PlaneFit) -> np.ndarray:
    return np.column_stack([turn(fit.rvec), fit.tvec])


@pytest.mark.published(source="OpenCV", where="triangulatePoints on random pairs of cameras")
@pytest.mark.parametrize("seed", range(6))
def test_rays_meet_where_opencv_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    first, second = random_pair(rng, float(rng.uniform(-0.05, 0.05)))
    for place in rng.uniform(-20, 20, (5, 3)):
        seen = np.array([fit.project(place[None])[0] for fit in (first, second)])
        ideal = [
            undistort(fit.camera, p[None])[0] for fit, p in zip((first, second), seen, strict=True)
        ]
        homogeneous = cv2.triangulatePoints(
            matrix(first), matrix(second), ideal[0][:, None], ideal[1][:, None]
        ).ravel()
        at, _ = meeting([first, second], seen, np.ones(2))
        np.testing.assert_allclose(at, place, atol=1e-6)
        np.testing.assert_allclose(at, homogeneous[:3] / homogeneous[3], atol=1e-6)


@pytest.mark.published(source="OpenCV", where="triangulatePoints after correctMatches, noisy marks")
@pytest.mark.parametrize("seed", range(4))
def test_noisy_rays_meet_at_the_least_squares_place(seed: int) -> None:
    """The optimal correction of a pair is least squares on the image plane, as ours is."""
    rng = np.random.default_rng(50 + seed)
    first, second = random_pair(rng, 0.0)
    place = rng.uniform(-15, 15, 3)
    seen = np.array([fit.project(place[None])[0] for fit in (first, second)])
    seen += 2.0 * rng.standard_normal((2, 2))
    fundamental = fundamental_of(first, second)
    one, two = cv2.correctMatches(fundamental, seen[None, :1], seen[None, 1:])
    ideal = [
        undistort(first.camera, np.asarray(p, dtype=float).reshape(1, 2))[0] for p in (one, two)
    ]
    homogeneous = cv2.triangulatePoints(
        matrix(first), matrix(second), ideal[0][:, None], ideal[1][:, None]
    ).ravel()
    at, _ = meeting([first, second], seen, np.ones(2))
    np.testing.assert_allclose(at, homogeneous[:3] / homogeneous[3], atol=1e-4)


def fundamental_of(first: PlaneFit, second: PlaneFit) -> np.ndarray:
    """Return the fundamental matrix that OpenCV finds from exact points of the two photos."""
    rng = np.random.default_rng(0)
    places = rng.uniform(-30, 30, (40, 3))
    bare = Camera(first.camera.fx, first.camera.fy, first.camera.cx, first.camera.cy)
    seen = [
        undistort(fit.camera, fit.project(places)) * bare.fx + [bare.cx, bare.cy]
        for fit in (first, second)
    ]
    found, _ = cv2.findFundamentalMat(seen[0], seen[1], cv2.FM_8POINT)
    return np.asarray(found)


@pytest.mark.published(source="OpenCV", where="findFundamentalMat, computeCorrespondEpilines")
@pytest.mark.parametrize("k1", [0.0, -0.05, 0.04])
def test_the_line_of_a_point_is_opencvs_epipolar_line(k1: float) -> None:
    rng = np.random.default_rng(round(1000 * (1 + k1)))
    first, second = random_pair(rng, k1)
    camera = first.camera
    place = rng.uniform(-15, 15, 3)
    point = first.project(place[None])[0]
    line = epipolar_line(first, second, (float(point[0]), float(point[1])))
    assert len(line) > 20
    straight = undistort(camera, line) * camera.fx + [camera.cx, camera.cy]
    ideal = undistort(camera, point[None]) * camera.fx + [camera.cx, camera.cy]
    lines = cv2.computeCorrespondEpilines(ideal[None], 1, fundamental_of(first, second))
    a, b, c = np.asarray(lines, dtype=float).ravel()
    off = np.abs(straight @ [a, b] + c) / np.hypot(a, b)
    assert off.max() < 1e-2  # OpenCV's lines are single precision
    _, gap = nearest_on_line(line, second.project(place[None]))
    assert gap[0] < 0.1  # the chord of a bent line


def residuals_of(photos, names, u_shift, pivot):
    """Return the joint problem's residuals, written anew on OpenCV's projection alone."""
    prior = photos[0].prior
    n, known = len(photos), np.array([np.log(prior.camera.fx), 0.0])

    def residuals(x: np.ndarray) -> np.ndarray:
        scale, lens, centre = x[:2], x[2:4], x[4:6]
        poses, moves = x[6 : 6 + 6 * n].reshape(n, 6), x[6 + 6 * n : 6 + 12 * n].reshape(n, 6)
        points = dict(zip(names, x[6 + 12 * n :].reshape(-1, 3), strict=True))
        focal = float(np.exp(lens[0]))
        camera = Camera(
            focal,
            focal,
            prior.camera.cx + centre[0],
            prior.camera.cy + centre[1],
            (float(lens[1]),),
        )
        out = [scale / PRINT.u_axes, (lens - known) / [prior.u_f_rel, prior.u_k1]]
        out.append(centre / (U_CENTRE * prior.camera.fx))
        for photo, pose, move in zip(photos, poses, moves, strict=True):
            fit = PlaneFit(camera, pose[:3], pose[3:], np.zeros((8, 8)), 0.0, 0)
            corners = photo.places_mm * [1 + scale[0], 1 + scale[1], 1]
            out.append(((projected(fit, corners) - photo.corners_px) / photo.u_corner_px).ravel())
            turned, _ = cv2.Rodrigues(move[:3])
            for name, mark in photo.marks.items():
                at = pivot + turned @ (points[name] - pivot) + move[3:]
                out.append((projected(fit, at[None])[0] - mark.at_px) / mark.u_px)
            each = u_shift / np.sqrt(2.0)  # told is how two photos differ
            out += [move[:3] / (each / LEVER_MM), move[3:] / each]
        return np.concatenate(out)

    return residuals


@pytest.mark.published(
    source="scipy.optimize.least_squares", where="the joint problem by numeric derivatives"
)
def test_the_adjustment_is_scipys() -> None:
    rng = np.random.default_rng(3)
    photos = dot_set(rng, u_px=1.0, elevations=(5.0, 30.0, -30.0), hide=False).photos
    photos = [photo.with_marks(dict(list(photo.marks.items())[:5])) for photo in photos]
    found = measure_views(photos, U_SHIFT, PRINT)
    assert isinstance(found, ViewsSolved)
    problem, x = found.found.problem, found.found.x
    wanted = residuals_of(problem.photos, problem.points, U_SHIFT, problem.pivot_mm)
    start = np.delete(x, 0) + 1e-3 * rng.standard_normal(len(x) - 1) * np.sqrt(
        np.delete(np.diag(found.found.covariance), 0)
    )
    solved = least_squares(wanted, start, jac="3-point", x_scale="jac", xtol=1e-14, ftol=1e-14)
    theirs = solved.x[-3 * len(problem.points) :].reshape(-1, 3)
    u = np.sqrt(np.diag(found.points.covariance)).reshape(-1, 3)
    assert np.abs((found.points.at_mm - theirs) / u).max() < 2e-3
    covariance = np.linalg.inv(solved.jac.T @ solved.jac)[-u.size :, -u.size :]
    ratio = np.sqrt(np.diag(covariance)).reshape(-1, 3) / u
    np.testing.assert_allclose(ratio, 1.0, atol=2e-3)
    np.testing.assert_allclose(
        found.points.covariance / np.outer(u, u), covariance / np.outer(u, u), atol=5e-3
    )


@pytest.mark.published(source="JCGM 101:2008", where="the covariance against sixty refits")
def test_the_covariance_says_how_far_refits_scatter() -> None:
    channels, stated = [], []
    for seed in range(60):
        photos = dot_set(np.random.default_rng([9, seed]), u_px=1.0).photos
        found = measure_views(photos, 0.0, PrintPrior())
        if isinstance(found, ViewsSolved) and not found.refused:
            gap = found.points.place("A/entry") - found.points.place("A/exit")
            slope = np.zeros(found.points.at_mm.size)
            slope[found.points.rows("A/entry")] = gap / np.linalg.norm(gap)
            slope[found.points.rows("A/exit")] = -gap / np.linalg.norm(gap)
            stated.append(np.sqrt(slope @ found.points.covariance @ slope))
            channels.append(np.linalg.norm(gap))
    assert len(channels) > 55
    truth = np.linalg.norm(
        np.subtract(*(dot_set(np.random.default_rng(0)).dots[n] for n in ("A/entry", "A/exit")))
    )
    scores = (np.array(channels) - truth) / stated
    # A standard deviation from 60 values is known to 9 %; three of those.
    assert np.sqrt(np.mean(scores**2)) == pytest.approx(1.0, abs=0.28)
