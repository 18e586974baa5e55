"""Lens priors and undistortion."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from calibration.lens import (
    U_F_CARD,
    U_F_EXIF,
    U_K1,
    U_K1_GIVEN,
    Camera,
    lens_prior,
    project,
    turn,
    undistort,
)
from calibration.photo import CaptureFacts

WIDE = CaptureFacts(4000, 3000)


def test_a_given_camera_is_taken_as_it_is() -> None:
    camera = Camera(3000.0, 3010.0, 1990.0, 1510.0, (0.03,))
    prior = lens_prior(WIDE, camera)
    assert (prior.camera, prior.source) == (camera, "given")
    assert (prior.u_f_rel, prior.u_k1) == (0.01, U_K1_GIVEN)
    assert lens_prior(WIDE, camera, 0.0006).u_f_rel == 0.0006


def test_a_given_camera_without_distortion_leaves_k1_open() -> None:
    assert lens_prior(WIDE, Camera(3000.0, 3000.0, 2000.0, 1500.0)).u_k1 == U_K1


@pytest.mark.memory(source="CIPA DC-008 (Exif): 35 mm film is 36 x 24 mm; by the diagonal")
def test_exif_focal_length_is_taken_by_the_diagonal() -> None:
    # 43.27 mm of film diagonal see 5000 px: a 43.27 mm lens has f = 5000 px.
    facts = CaptureFacts(4000, 3000, focal_35mm=math.hypot(36, 24))
    prior = lens_prior(facts)
    assert prior.camera.fx == pytest.approx(5000.0)
    assert prior.camera.fx == prior.camera.fy
    assert (prior.camera.cx, prior.camera.cy) == (1999.5, 1499.5)
    assert (prior.u_f_rel, prior.u_k1, prior.source) == (U_F_EXIF, U_K1, "exif")


def test_an_upright_photo_has_the_same_lens() -> None:
    across = lens_prior(CaptureFacts(4000, 3000, focal_35mm=26.0))
    upright = lens_prior(CaptureFacts(3000, 4000, focal_35mm=26.0))
    assert across.camera.fx == upright.camera.fx


def test_digital_zoom_leaves_open_whether_exif_counts_it() -> None:
    plain = lens_prior(CaptureFacts(4000, 3000, focal_35mm=26.0))
    zoomed = lens_prior(CaptureFacts(4000, 3000, focal_35mm=26.0, digital_zoom=2.0))
    for true in (1.0, 2.0):
        off = abs(math.log(zoomed.camera.fx / plain.camera.fx / true))
        assert off <= zoomed.u_f_rel
    assert lens_prior(CaptureFacts(4000, 3000, focal_35mm=26.0, digital_zoom=1.0)) == plain


@pytest.mark.parametrize("focal", [None, 0.5, 5000.0])
def test_without_a_believable_exif_a_phone_is_assumed(focal: float | None) -> None:
    prior = lens_prior(CaptureFacts(3000, 4000, focal_35mm=focal))
    assert (prior.source, prior.u_f_rel, prior.camera.fx) == ("card", U_F_CARD, 3200.0)


def test_camera_fills_missing_coefficients_with_zero() -> None:
    camera = Camera(1.0, 2.0, 3.0, 4.0, (0.1, -0.2))
    assert camera.coefficients.tolist() == [0.1, -0.2, 0, 0, 0]
    assert camera.matrix.tolist() == [[1, 0, 3], [0, 2, 4], [0, 0, 1]]


def test_undistortion_undoes_a_strong_lens_to_a_billionth() -> None:
    camera = Camera(900.0, 910.0, 640.0, 480.0, (-0.22, 0.08, 0.003, -0.002, -0.01))
    rng = np.random.default_rng(3)
    ideal = rng.uniform([-0.65, -0.5], [0.65, 0.5], (400, 2))
    rays = np.column_stack([ideal, np.ones(400)])
    seen, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), camera.matrix, camera.coefficients)
    assert np.abs(undistort(camera, seen.reshape(-1, 2)) - ideal).max() < 1e-12


def test_undistortion_beyond_where_the_model_folds_stays_finite() -> None:
    camera = Camera(500.0, 500.0, 640.0, 480.0, (-0.6,))
    assert np.isfinite(undistort(camera, np.array([[-9000.0, 9000.0], [640.0, 480.0]]))).all()


def test_the_slope_of_a_projection_is_its_derivative() -> None:
    camera = Camera(900.0, 915.0, 640.0, 480.0, (0.05, 0.01, 0.001, -0.001, 0.0))
    at = np.array([math.log(camera.fx), 0.05, 0.1, -0.2, 0.05, -60.0, -40.0, 260.0])
    places = np.array([[0.0, 0, 0], [138, 0, 0], [138, 111, 0], [20, 60, -8]])

    def seen(p: np.ndarray) -> np.ndarray:
        f = math.exp(p[0])
        moved = Camera(f, f * camera.fy / camera.fx, 640.0, 480.0, (p[1], 0.01, 0.001, -0.001))
        return project(moved, p[2:5], p[5:8], places)[0].ravel()

    _, slope = project(camera, at[2:5], at[5:8], places)
    for i in range(8):
        step = np.zeros(8)
        step[i] = 1e-6
        difference = (seen(at + step) - seen(at - step)) / 2e-6
        assert slope[:, i] == pytest.approx(difference, rel=1e-5, abs=1e-5)


def test_turn_is_a_rotation() -> None:
    matrix = turn(np.array([0.0, 0.0, math.pi / 2]))
    assert matrix @ [1, 0, 0] == pytest.approx(np.array([0, 1, 0]), abs=1e-12)
