"""An ID-1 card's edges and a ruler's points: a scale, and honestly less of it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from calibration.fallback import ID1_MM, U_ID1_REL, id1_fit, ruler_fit
from calibration.frames import Array, Image
from calibration.lens import Camera, LensPrior, project
from calibration.pose import PlaneFit, PoseRefused

CAMERA = Camera(3200.0, 3200.0, 1999.5, 1499.5, (0.03,))
PRIOR = LensPrior(CAMERA, 0.03, 0.01, "given")
WIDTH, HEIGHT = ID1_MM
EDGES = np.array(  # clear of the rounded corners, radius 3.48 mm at most
    [
        [[8.0, 0.0], [78.0, 0.0]],
        [[WIDTH, 6.0], [WIDTH, 48.0]],
        [[78.0, HEIGHT], [8.0, HEIGHT]],
        [[0.0, 48.0], [0.0, 6.0]],
    ]
)
TVEC = np.array([-45.0, -20.0, 260.0])


def seen(points: Array, rvec: Array, tvec: Array = TVEC, camera: Camera = CAMERA) -> Array:
    flat = np.asarray(points, dtype=np.float64).reshape(-1, 2)
    lifted = np.column_stack([flat, np.zeros(len(flat))])
    return project(camera, rvec, tvec, lifted)[0].reshape(np.shape(points))


def length(fit: PlaneFit | PoseRefused, ends_px: Array) -> float:
    assert isinstance(fit, PlaneFit), fit.sentence
    a, b = fit.on_plane(ends_px)
    return float(np.linalg.norm(b - a))


def u_length(fit: PlaneFit, ends_px: Array) -> float:
    """Return the length's standard uncertainty by first order."""
    p, root = fit.parameters, np.sqrt(np.diag(fit.covariance))
    slope = np.zeros(8)
    for i in range(8):
        if root[i] == 0:
            continue
        step = np.zeros(8)
        step[i] = 1e-3 * root[i]
        ends = [length(fit.with_parameters(p + sign * step), ends_px) for sign in (1, -1)]
        slope[i] = (ends[0] - ends[1]) / (2e-3 * root[i])
    return float(np.sqrt(slope @ fit.covariance @ slope))


@pytest.mark.published(
    source="ISO/IEC 7810, ID-1, second hand",
    where="85.60 x 53.98 mm, made from 85.47 x 53.92 to 85.72 x 54.03",
)
def test_the_id1_card_is_the_standards() -> None:
    assert ID1_MM == (85.60, 53.98)
    # 0.146 % half range, rectangular: 0.084 %
    assert pytest.approx(0.00146 / np.sqrt(3), abs=5e-6) == U_ID1_REL


@pytest.mark.parametrize("tilt", [0.0, 0.15, -0.3])
def test_an_id1_cards_edges_give_lengths_in_its_plane(tilt: float) -> None:
    rvec = np.array([tilt, 0.1, 0.05])
    fit = id1_fit(seen(EDGES, rvec), PRIOR)
    ends = seen(np.array([[20.0, 20.0], [40.0, 30.0]]), rvec)
    assert length(fit, ends) == pytest.approx(np.hypot(20, 10), abs=1e-4)


def test_edges_may_come_in_any_order_and_direction() -> None:
    rvec = np.array([0.1, -0.15, 0.2])
    px = seen(EDGES, rvec)
    plain, other = id1_fit(px, PRIOR), id1_fit(px[[2, 0, 3, 1], ::-1], PRIOR)
    assert isinstance(plain, PlaneFit)
    assert isinstance(other, PlaneFit)
    assert other.parameters == pytest.approx(plain.parameters, abs=1e-6)


def test_an_upright_card_keeps_up_up() -> None:
    rvec = np.array([0.0, 0.0, np.pi / 2])  # its long side down the picture
    px = seen(EDGES, rvec, np.array([27.0, -43.0, 260.0]))
    fit = id1_fit(px, PRIOR)
    assert isinstance(fit, PlaneFit)
    top, foot = fit.project(np.array([[0.0, 0.0, 0.0], [0.0, 10.0, 0.0]]))
    assert foot[1] - top[1] > 0.99 * np.linalg.norm(foot - top)
    ends = seen(np.array([[10.0, 10.0], [70.0, 10.0]]), rvec, np.array([27.0, -43.0, 260.0]))
    assert length(fit, ends) == pytest.approx(60.0, abs=1e-3)


def test_edges_that_enclose_nothing_are_refused() -> None:
    px = seen(EDGES, np.zeros(3))
    px[1] = px[0] + 1.0
    answer = id1_fit(px, PRIOR)
    assert isinstance(answer, PoseRefused)
    assert answer.code == "edges_parallel"


def test_the_id1_uncertainty_covers_clicks_of_a_pixel() -> None:
    """150 times clicked anew, made as the standard allows: |error| / u has variance about 1."""
    rng = np.random.default_rng(6)
    rvec, inner = np.array([0.1, -0.1, 0.05]), np.array([[20.0, 20.0], [40.0, 30.0]])
    errors = []
    for _ in range(150):
        made = np.array([rng.uniform(85.47, 85.72) / WIDTH, rng.uniform(53.92, 54.03) / HEIGHT])
        fit = id1_fit(seen(EDGES * made, rvec) + rng.normal(0, 1.0, EDGES.shape), PRIOR)
        assert isinstance(fit, PlaneFit)
        ends = seen(inner, rvec)
        errors.append((length(fit, ends) - np.hypot(20, 10)) / u_length(fit, ends))
    assert 0.5 < np.mean(np.square(errors)) < 1.5


def test_a_ruler_square_on_gives_its_length_anywhere_in_the_picture() -> None:
    for x, y in ((0.0, 0.0), (60.0, -40.0), (-70.0, 30.0)):
        where = np.array([[0.0, 0.0], [50.0, 0.0]])
        px = seen(where, np.zeros(3), np.array([x, y, 280.0]))
        fit = ruler_fit(px, 50.0, 0.1, PRIOR)
        assert length(fit, px) == pytest.approx(50.0, abs=1e-6)
        assert isinstance(fit, PlaneFit)
        sight = fit.project(np.array([[25.0, 0.0, 0.0]]))
        assert np.linalg.norm(sight - px.mean(axis=0)) < 400


def test_the_rulers_uncertainty_covers_tilts_that_are_not_seen() -> None:
    """Tilts of 10 degrees on both axes, lengths across and along the ruler."""
    rng = np.random.default_rng(8)
    errors = []
    for _ in range(400):
        rvec = np.array([*rng.normal(0, np.deg2rad(10), 2), rng.uniform(-3, 3)])
        px = seen(np.array([[0.0, 0.0], [50.0, 0.0]]), rvec, np.array([0.0, 0.0, 280.0]))
        fit = ruler_fit(px + rng.normal(0, 1.0, (2, 2)), 50 + rng.normal(0, 0.2), 0.2, PRIOR)
        assert isinstance(fit, PlaneFit)
        turn = rng.uniform(0, np.pi)
        span = 10 * np.array([np.cos(turn), np.sin(turn)])
        middle = np.array([25.0, 0.0])
        ends = seen(np.array([middle - span, middle + span]), rvec, np.array([0.0, 0.0, 280.0]))
        errors.append((length(fit, ends) - 20.0) / u_length(fit, ends))
    inside = np.mean(np.abs(errors) < 1.96)
    assert inside > 0.92
    assert np.std(errors) > 0.4  # not wide for the sake of it


def test_a_ruler_too_short_is_refused() -> None:
    answer = ruler_fit(np.array([[100.0, 100.0], [110.0, 100.0]]), 5.0, 0.1, PRIOR)
    assert isinstance(answer, PoseRefused)
    assert answer.code == "ruler_too_short"
    assert "10 px" in answer.seen


def rendered(rvec: Array, dpmm: int = 20, soften: float = 0.8) -> Image:
    """Return a picture of an ID-1 card with round corners on a darker ground, as a lens sees it.

    Drawn flat at 20 px/mm, then brought into the picture by the camera's homography.
    """
    wide, high = round(WIDTH * dpmm), round(HEIGHT * dpmm)
    card = np.full((high + 200, wide + 200), 70, dtype=np.uint8)
    r = round(3.18 * dpmm)  # the standard's corner radius
    for box in (((r, 0), (wide - r, high)), ((0, r), (wide, high - r))):
        start, end = (tuple(int(v) + 100 for v in corner) for corner in box)
        cv2.rectangle(card, start, (end[0] - 1, end[1] - 1), 210, -1)
    for x in (r, wide - r):
        for y in (r, high - r):
            cv2.circle(card, (x + 100, y + 100), r, 210, -1)
    turn, _ = cv2.Rodrigues(rvec)
    lens = Camera(CAMERA.fx, CAMERA.fy, CAMERA.cx, CAMERA.cy).matrix
    # A pixel's index is its centre, half a pixel in from where its ink begins.
    mm, start_mm = 1 / dpmm, (0.5 - 100) / dpmm
    from_card = np.array([[mm, 0, start_mm], [0, mm, start_mm], [0, 0, 1]])
    to_photo = lens @ np.column_stack([turn[:, 0], turn[:, 1], TVEC]) @ from_card
    seen_ = cv2.warpPerspective(card, to_photo, (4000, 3000), flags=cv2.INTER_AREA, borderValue=70)
    return np.asarray(cv2.GaussianBlur(seen_, (0, 0), soften))


def on_edge(picture: Image, near: Array, across: Array) -> Array:
    """Return where the brightness passes half way along a normal: a careful click."""
    steps = np.arange(-8.0, 8.01, 0.25)
    places = (near + steps[:, None] * across).astype(np.float32)
    bright = cv2.remap(picture, places[:, 0], places[:, 1], cv2.INTER_LINEAR).ravel().astype(float)
    half = (bright.min() + bright.max()) / 2
    (at,) = np.flatnonzero(np.sign(bright[:-1] - half) != np.sign(bright[1:] - half))[:1]
    part = (half - bright[at]) / (bright[at + 1] - bright[at])
    return np.asarray(near + (steps[at] + 0.25 * part) * across)


@pytest.mark.parametrize("rvec", [[0.05, -0.1, 0.02], [0.25, 0.2, -0.1], [-0.2, 0.3, 0.4]])
def test_an_id1_card_in_a_picture_scales_a_length_beside_it(rvec: list[float]) -> None:
    """The edges are found in the pixels by their brightness, off the rounded corners."""
    straight = Camera(CAMERA.fx, CAMERA.fy, CAMERA.cx, CAMERA.cy)
    turned = np.array(rvec)
    picture = rendered(turned)
    clicks = []
    for edge in EDGES:
        ends = seen(edge, turned, camera=straight)
        along = (ends[1] - ends[0]) / np.linalg.norm(ends[1] - ends[0])
        across = np.array([-along[1], along[0]])
        off = np.random.default_rng(1).uniform(-3, 3, 2)  # nobody hits the edge at once
        nearby = [end + o * across for end, o in zip(ends, off, strict=True)]
        clicks.append([on_edge(picture, at, across) for at in nearby])
    fit = id1_fit(np.array(clicks), LensPrior(straight, 0.03, 1e-6, "given"))
    assert isinstance(fit, PlaneFit)
    for places in ([[30.0, 20.0], [30.0, 40.0]], [[20.0, 30.0], [60.0, 30.0]]):
        true = float(np.linalg.norm(np.subtract(*places)))
        ends = seen(np.array(places), turned, camera=straight)
        u = u_length(fit, ends)
        assert abs(length(fit, ends) - true) < max(2 * u, 0.002 * true)
        assert u / true < 0.02
