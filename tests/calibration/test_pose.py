"""Pose and camera from the card's corners: right, honest about how right, and choosy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from calibration.card import FRAME, POCKET, Card
from calibration.frames import Array
from calibration.lens import Camera, LensPrior, project
from calibration.pose import PlaneFit, PoseRefused, fit_plane, refine_pose

CAMERA = Camera(3200.0, 3200.0, 1999.5, 1499.5, (0.02,))
PRIOR = LensPrior(CAMERA, 0.03, 0.05, "exif")
RVEC, TVEC = np.array([0.15, -0.2, 0.1]), np.array([-70.0, -55.0, 262.0])
CORNERS = FRAME.corners_mm(FRAME.corner_ids)
ENDS = np.array([[40.0, 50.0, 0.0], [60.0, 50.0, 0.0]])


def seen_by(camera: Camera, places: Array, rvec: Array = RVEC, tvec: Array = TVEC) -> Array:
    lifted = np.column_stack([places, np.zeros(len(places))])
    return project(camera, rvec, tvec, lifted)[0]


def fitted(px: Array, mm: Array = CORNERS, prior: LensPrior = PRIOR) -> PlaneFit:
    fit = fit_plane(px, mm, prior)
    assert isinstance(fit, PlaneFit), fit.sentence
    return fit


def refused(px: Array, mm: Array) -> PoseRefused:
    fit = fit_plane(px, mm, PRIOR)
    assert isinstance(fit, PoseRefused)
    assert fit.sentence == f"{fit.seen} {fit.means} {fit.do}"
    return fit


def length_mm(fit: PlaneFit, ends_px: Array) -> float:
    a, b = fit.on_plane(ends_px)
    return float(np.linalg.norm(b - a))


def test_exact_corners_give_the_pose_back() -> None:
    fit = fitted(seen_by(CAMERA, CORNERS))
    assert fit.rms_px < 1e-6
    assert fit.corners == 58
    assert fit.rvec == pytest.approx(RVEC, abs=1e-7)
    assert fit.tvec == pytest.approx(TVEC, abs=1e-4)
    assert fit.centre_mm[2] < 0  # the camera is on the printed side


@pytest.mark.parametrize("height", [0.0, 12.0, -7.0])
def test_a_ray_meets_the_plane_where_its_point_is(height: float) -> None:
    fit = fitted(seen_by(CAMERA, CORNERS))
    rng = np.random.default_rng(5)
    there = rng.uniform([0, 0], [138, 111], (50, 2))
    lifted = np.column_stack([there, np.full(50, -height)])  # heights count toward the viewer
    assert np.abs(fit.on_plane(fit.project(lifted), height) - there).max() < 1e-9


def test_other_parameters_are_the_same_camera_moved() -> None:
    fit = fitted(seen_by(CAMERA, CORNERS))
    assert fit.with_parameters(fit.parameters).project(ENDS) == pytest.approx(fit.project(ENDS))
    shift = np.array([0.01, 0.002, 0.01, 0.02, -0.01, 1.0, 2.0, 3.0])
    moved = fit.with_parameters(fit.parameters + shift)
    assert moved.parameters == pytest.approx(fit.parameters + shift)
    assert moved.camera.fx == pytest.approx(fit.camera.fx * np.exp(0.01))


@pytest.mark.parametrize("error", [-0.15, 0.15])
@pytest.mark.parametrize("tilt", [0.0, 0.3])
def test_a_wrong_focal_length_leaves_lengths_in_the_plane(error: float, tilt: float) -> None:
    px = seen_by(CAMERA, CORNERS, np.array([tilt, 0.0, 0.1]))
    ends = project(CAMERA, np.array([tilt, 0.0, 0.1]), TVEC, ENDS)[0]
    wrong = replace(CAMERA, fx=3200 * (1 + error), fy=3200 * (1 + error))
    fit = fitted(px, prior=LensPrior(wrong, 0.15, 0.05, "card"))
    assert length_mm(fit, ends) == pytest.approx(20.0, abs=0.005)


@pytest.mark.parametrize("k1", [-0.05, 0.05])
def test_distortion_is_solved(k1: float) -> None:
    bent = replace(CAMERA, dist=(k1,))
    prior = LensPrior(replace(CAMERA, dist=()), 0.03, 0.05, "exif")
    fit = fitted(seen_by(bent, CORNERS), prior=prior)
    assert fit.camera.dist[0] == pytest.approx(k1, abs=0.005)
    assert length_mm(fit, project(bent, RVEC, TVEC, ENDS)[0]) == pytest.approx(20.0, abs=0.005)


def test_the_ratio_of_the_focal_lengths_is_kept() -> None:
    camera = replace(CAMERA, fy=3260.0)
    fit = fitted(seen_by(camera, CORNERS), prior=LensPrior(camera, 0.03, 0.05, "given"))
    assert fit.camera.fy / fit.camera.fx == pytest.approx(3260 / 3200)


def test_wrong_corners_are_left_out() -> None:
    rng = np.random.default_rng(2)
    px = seen_by(CAMERA, CORNERS) + rng.normal(0, 0.05, CORNERS.shape)
    px[[3, 20, 41]] += [[80.0, 10.0], [-6.0, 5.0], [0.0, 3.0]]  # gross, and near ones
    fit = fitted(px)
    assert fit.corners == 55
    assert fit.rms_px < 0.1
    assert fit.tvec == pytest.approx(TVEC, abs=0.5)


def test_a_bent_card_keeps_its_corners_and_shows_it() -> None:
    """A card curved by 2 mm, seen through a known lens: no corner is thrown out for it."""
    bow = 2.0 * (1 - ((CORNERS[:, 0] - 69) / 69) ** 2)
    px = project(CAMERA, RVEC, TVEC, np.column_stack([CORNERS, -bow]))[0]
    fit = fitted(px, prior=LensPrior(CAMERA, 0.01, 0.01, "given"))
    assert fit.corners > 50
    assert fit.rms_px > 0.5


def scatter(card_mm: Array, prior: LensPrior, sigma: float, told: float, count: int) -> Array:
    """Return standardised errors, (count, 2), of an in-plane length and the distance.

    The lens is drawn from the prior, as it would be among the phones it is meant for.
    """
    rng = np.random.default_rng(11)
    errors = np.empty((count, 2))
    for i in range(count):
        f = CAMERA.fx * np.exp(prior.u_f_rel * rng.standard_normal())
        true = replace(CAMERA, fx=f, fy=f, dist=(0.02 + prior.u_k1 * rng.standard_normal(),))
        px = seen_by(true, card_mm) + rng.normal(0, sigma, card_mm.shape)
        fit = fit_plane(px, card_mm, prior, sigma_px=told)
        assert isinstance(fit, PlaneFit)
        ends = project(true, RVEC, TVEC, ENDS)[0]
        errors[i] = standardised(fit, ends, np.linalg.norm(TVEC))
    return errors


def standardised(fit: PlaneFit, ends_px: Array, distance: float) -> Array:
    def values(p: Array) -> Array:
        at = fit.with_parameters(p)
        return np.array([length_mm(at, ends_px), np.linalg.norm(at.centre_mm)])

    p = fit.parameters
    root = np.sqrt(np.diag(fit.covariance))
    slope = np.empty((2, 8))
    for i in range(8):
        step = np.zeros(8)
        step[i] = 1e-3 * root[i]
        slope[:, i] = (values(p + step) - values(p - step)) / (2e-3 * root[i])
    u = np.sqrt(np.diag(slope @ fit.covariance @ slope.T))
    return np.asarray((values(p) - [20.0, distance]) / u)


@pytest.mark.parametrize(
    ("card", "sigma"), [(FRAME, 0.1), (POCKET, 0.4)], ids=["as told", "worse than told"]
)
def test_the_stated_covariance_is_the_observed_one(card: Card, sigma: float) -> None:
    """200 refits: a standardised error has variance 1; 200 draws know it to 10 %, 3 s to 0.3."""
    errors = scatter(card.corners_mm(card.corner_ids), PRIOR, sigma, 0.1, 200)
    assert np.mean(errors**2, axis=0) == pytest.approx(1.0, abs=0.3)
    assert np.abs(np.mean(errors, axis=0)).max() < 0.22  # 3 / sqrt(200)


def test_corners_worse_than_told_widen_the_covariance() -> None:
    rng = np.random.default_rng(9)
    noise = rng.normal(0, 1.0, CORNERS.shape)
    calm, rough = (fitted(seen_by(CAMERA, CORNERS) + s * noise) for s in (0.05, 0.8))
    assert (np.diag(rough.covariance)[2:] > 10 * np.diag(calm.covariance)[2:]).all()


def test_of_two_poses_the_right_one_is_kept() -> None:
    """A small card tilted the one way looks much like one tilted the other way."""
    mm = POCKET.corners_mm(POCKET.corner_ids)
    for sign in (-1, 1):
        rvec, tvec = np.array([0.0, sign * 0.3, 0.0]), np.array([-40.0, -27.0, 400.0])
        rng = np.random.default_rng(4)
        px = seen_by(CAMERA, mm, rvec, tvec) + rng.normal(0, 0.1, mm.shape)
        fit = fitted(px, mm)
        assert fit.rvec[1] == pytest.approx(rvec[1], abs=0.03)


def test_too_few_corners_are_refused() -> None:
    answer = refused(seen_by(CAMERA, CORNERS[:5]), CORNERS[:5])
    assert answer.code == "too_few_corners"
    assert answer.seen.startswith("5 corners")


def test_corners_in_a_line_are_refused() -> None:
    row = CORNERS[CORNERS[:, 1] == CORNERS[0, 1]]
    assert len(row) > 6
    assert refused(seen_by(CAMERA, row), row).code == "corners_in_a_line"


def test_a_speck_of_a_card_is_refused() -> None:
    far = seen_by(CAMERA, CORNERS, RVEC, np.array([0.0, 0.0, 60_000.0]))
    assert refused(far, CORNERS).code == "card_too_small"


def test_a_card_from_behind_is_refused() -> None:
    px = seen_by(CAMERA, CORNERS)
    px[:, 0] = 3999 - px[:, 0]
    assert refused(px, CORNERS).code == "seen_from_behind"


def test_scattered_corners_have_no_pose() -> None:
    px = np.random.default_rng(1).uniform(0, 3000, CORNERS.shape)
    assert refused(px, CORNERS).code in {"no_pose", "too_few_corners", "corners_in_a_line"}


def test_four_corners_are_enough_when_they_are_sure() -> None:
    four = np.array([[0.0, 0.0], [85.6, 0.0], [85.6, 53.98], [0.0, 53.98]])
    fit = refine_pose(seen_by(CAMERA, four), four, PRIOR, 1.0)
    assert isinstance(fit, PlaneFit)
    assert fit.tvec == pytest.approx(TVEC, rel=1e-4)
