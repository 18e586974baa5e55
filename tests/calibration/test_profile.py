"""A lens from tilted photos of the card: against a known camera, and against OpenCV's own way."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.card import FRAME, POCKET, Card
from calibration.card_check import check_card
from calibration.find import CardSeen
from calibration.lens import Camera, LensPrior, contradicted, lens_prior
from calibration.photo import CaptureFacts
from calibration.pose import PlaneFit, fit_plane
from calibration.profile import CardCorners, Profile, ProfileRefused, fit_profile

SIZE = (4000, 3000)
TRUE = Camera(3050.0, 3050.0, 2010.0, 1490.0, (0.06, -0.03, 0.0, 0.0, 0.0))
START = LensPrior(Camera(3300.0, 3300.0, 1999.5, 1499.5), 0.15, 0.05, "card")
NOISE_PX = 0.1


def seen_by(card: Card, turned_deg: tuple[float, float], camera: Camera = TRUE) -> np.ndarray:
    """Return the card's corners, (N, 2) px, by a camera that looks at its middle."""
    rvec = np.deg2rad([*turned_deg, 0.0])
    turn, _ = cv2.Rodrigues(rvec)
    middle = np.array([*(np.asarray(card.body_mm) / 2), 0.0])
    tvec = np.array([0.0, 0.0, 0.95 * max(card.body_mm)]) - turn @ middle
    mm = np.column_stack([card.corners_mm(card.corner_ids), np.zeros(len(card.corner_ids))])
    pixels, _ = cv2.projectPoints(mm, rvec, tvec, camera.matrix, camera.coefficients)
    return pixels.reshape(-1, 2)


def views(
    rng: np.random.Generator, count: int, tilt_deg: float, card: Card = FRAME
) -> list[CardCorners]:
    angles = 2 * np.pi * np.arange(count) / count + 0.3
    mm = card.corners_mm(card.corner_ids)
    found = []
    for i, angle in enumerate(angles):
        pixels = seen_by(card, (tilt_deg * np.cos(angle), tilt_deg * np.sin(angle)))
        found.append(CardCorners(f"{i}.jpg", pixels + NOISE_PX * rng.normal(size=mm.shape), mm))
    return found


def profile(shots: list[CardCorners]) -> Profile:
    found = fit_profile(shots, SIZE, START)
    assert isinstance(found, Profile), found
    return found


@pytest.mark.parametrize("card", [FRAME, POCKET], ids=lambda card: card.id)
def test_the_lens_comes_back_within_its_own_uncertainty(card: Card) -> None:
    """Chi-squared of the five parameters over 12 sets: 60 degrees of freedom, 0.1 % each side."""
    true = np.array([np.log(TRUE.fx), TRUE.cx, TRUE.cy, *TRUE.dist[:2]])
    total = 0.0
    for seed in range(12):
        found = profile(views(np.random.default_rng(seed), 5, 28.0, card))
        got = np.array([np.log(found.camera.fx), found.camera.cx, found.camera.cy])
        gap = np.concatenate([got, found.camera.dist[:2]]) - true
        total += float(gap @ np.linalg.solve(found.covariance, gap))
    assert 31.7 < total < 99.6
    assert found.u_f_rel < 0.0006


def test_it_agrees_with_opencv() -> None:
    shots = views(np.random.default_rng(5), 5, 28.0)
    found = profile(shots)
    places = [
        np.column_stack([s.corners_mm, np.zeros(len(s.corners_mm))]).astype(np.float32)
        for s in shots
    ]
    flags = cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
    _, matrix, dist, _, _ = cv2.calibrateCamera(
        places,
        [s.corners_px.astype(np.float32).reshape(-1, 1, 2) for s in shots],
        SIZE,
        START.camera.matrix,
        np.zeros(5),
        flags=flags | cv2.CALIB_USE_INTRINSIC_GUESS,
    )
    assert found.camera.fx == pytest.approx(matrix[0, 0], abs=0.05)
    assert (found.camera.cx, found.camera.cy) == pytest.approx(matrix[:2, 2], abs=0.05)
    assert found.camera.dist[:2] == pytest.approx(dist.ravel()[:2], abs=2e-4)


def test_a_few_wrong_corners_are_left_out() -> None:
    shots = views(np.random.default_rng(2), 5, 28.0)
    good = profile(shots)
    shots[1].corners_px[:3] += 25.0
    found = profile(shots)
    assert found.camera.fx == pytest.approx(good.camera.fx, rel=4 * good.u_f_rel)


@pytest.mark.parametrize(
    ("count", "tilt", "says"),
    [(2, 28.0, "2 photos show the card"), (5, 4.0, "at most 8 degrees apart")],
)
def test_photos_that_can_t_tell_the_lens_are_refused(count: int, tilt: float, says: str) -> None:
    found = fit_profile(views(np.random.default_rng(1), count, tilt), SIZE, START)
    assert isinstance(found, ProfileRefused)
    assert says in found.sentence
    assert "tilted" in found.do


def fit_by(prior: LensPrior, camera: Camera, rng: np.random.Generator) -> PlaneFit:
    mm = FRAME.corners_mm(FRAME.corner_ids)
    pixels = seen_by(FRAME, (22.0, 10.0), camera) + NOISE_PX * rng.normal(size=mm.shape)
    fit = fit_plane(pixels, mm, prior)
    assert isinstance(fit, PlaneFit)
    return fit


def alarmed(prior: LensPrior, fit: PlaneFit) -> bool:
    return contradicted(prior, fit.camera.fx, float(np.sqrt(fit.covariance[0, 0])))


def test_a_zoomed_photo_contradicts_a_profile_and_a_plain_one_seldom_does() -> None:
    facts = CaptureFacts(width=SIZE[0], height=SIZE[1])
    rng = np.random.default_rng(8)
    false = 0
    for _ in range(60):
        off = float(np.exp(0.003 * rng.normal()))
        told = Camera(TRUE.fx * off, TRUE.fx * off, TRUE.cx, TRUE.cy, TRUE.dist)
        prior = lens_prior(facts, told, 0.003)
        false += alarmed(prior, fit_by(prior, TRUE, rng))
    assert false <= 3  # 1 % each: more than 3 of 60 happens once in 400 runs
    prior = lens_prior(facts, TRUE, 0.003)
    zoomed = Camera(1.3 * TRUE.fx, 1.3 * TRUE.fx, TRUE.cx, TRUE.cy, TRUE.dist)
    assert alarmed(prior, fit_by(prior, zoomed, rng))


def test_the_check_tells_lengths_and_flatness() -> None:
    rng = np.random.default_rng(3)
    mm = FRAME.corners_mm(FRAME.corner_ids)
    pixels = seen_by(FRAME, (20.0, 15.0)) + NOISE_PX * rng.normal(size=mm.shape)
    ids = np.asarray(FRAME.corner_ids)
    found = check_card(CardSeen(FRAME, ids, pixels, False, 60), START.camera)
    assert not hasattr(found, "sentence")
    assert found.flat
    # 0.1 px is 0.005 mm here; a length has two ends.
    assert all(s.rms_mm < 3 * 0.005 * np.sqrt(2) for s in found.stretches)
    assert [s.from_mm for s in found.stretches] == [5.0, 20.0, 50.0]
    bent = pixels.copy()
    across = (mm[:, 0] - mm[:, 0].mean()) / np.ptp(mm[:, 0])
    bent[:, 1] += 12.0 * across**2
    curved = check_card(CardSeen(FRAME, ids, bent, False, 60), START.camera)
    assert not curved.flat
    assert curved.stretches[0].rms_mm > found.stretches[0].rms_mm
