"""The seat: angles between the axis and a skin whose shape is known exactly."""

import numpy as np
import pytest

from assess.edge_line import crossing, edge_line
from assess.outlines import Outline, run_slope
from assess.seat import (
    EndSeat,
    Run,
    Seat,
    across_rim,
    along_rim,
    tangent_in,
    whole_angle,
)
from assess.seat_wording import LOOK, TRACE_BOTH, TRACE_MORE, end_sentence, seat_sentences
from calibration.draws import Draws
from calibration.lens import Camera
from calibration.pose import PlaneFit
from sample_images.scene import look_at

DRAWS = Draws(1, 20_000)
RADIUS_MM = 2.6
MIDDLE = np.array([60.0, 50.0, -4.0])
"""Of a cylinder along x: a rim whose section is a circle exactly."""


def camera_at(rise_deg: float, aside_deg: float = 0.0) -> PlaneFit:
    rise, aside = np.deg2rad([rise_deg, aside_deg])
    sight = np.array([np.sin(aside) * np.cos(rise), -np.sin(rise), -np.cos(aside) * np.cos(rise)])
    rvec, tvec = look_at(MIDDLE + 260.0 * sight, MIDDLE, 3.0)
    camera = Camera(3000.0, 3000.0, 1999.5, 1499.5, (0.03,))
    return PlaneFit(camera, rvec, tvec, np.zeros((8, 8)), 0.0, 60)


def sloping(deg: float) -> np.ndarray:
    """Return how the cylinder stands if its run goes away from the viewer by so much."""
    turn = np.deg2rad(deg)
    return np.array(
        [[np.cos(turn), 0.0, -np.sin(turn)], [0.0, 1.0, 0.0], [np.sin(turn), 0.0, np.cos(turn)]]
    )


LEVEL = sloping(0.0)


def upper_outline(camera: PlaneFit, stands: np.ndarray = LEVEL) -> np.ndarray:
    """Return the cylinder's silhouette, px: where lines of sight touch it, worked out exactly."""
    places = []
    for x in np.linspace(-25.0, 25.0, 25):
        # A circle of radius r seen from a point: the touching place lies at an angle acos(r / d).
        eye = (stands.T @ (camera.centre_mm - MIDDLE))[1:]
        turn = np.arctan2(eye[1], eye[0])
        reach = np.arccos(RADIUS_MM / np.hypot(*eye))
        ends = [RADIUS_MM * np.array([np.cos(t), np.sin(t)]) for t in (turn - reach, turn + reach)]
        top = min(ends, key=lambda end: end[0])
        places.append(MIDDLE + stands @ np.array([x, *top]))
    return camera.project(np.array(places))


def entry_at(lean_deg: float) -> np.ndarray:
    """Return the place of the cylinder whose normal leans so far toward the viewer."""
    lean = np.deg2rad(lean_deg)
    return MIDDLE + RADIUS_MM * np.array([0.0, -np.cos(lean), -np.sin(lean)])


@pytest.mark.parametrize("slope_deg", [-12.0, 0.0, 10.0])
@pytest.mark.parametrize("lean_deg", [-20.0, 15.0])
def test_on_a_sloping_rim_the_skin_s_normal_is_square_to_its_run(
    slope_deg: float, lean_deg: float
) -> None:
    stands, lean = sloping(slope_deg), np.deg2rad(lean_deg)
    skin = stands @ np.array([0.0, -np.cos(lean), -np.sin(lean)])
    entry, up = MIDDLE + RADIUS_MM * skin, np.array([0.0, -1.0])
    outlines = [
        Outline(f"{rise}", camera, upper_outline(camera, stands), 0.3)
        for rise in (0.0, 35.0, -35.0)
        for camera in [camera_at(rise, 5.0)]
    ]
    first = outlines[0]
    tangent = tangent_in(first.camera, first.contour_px, entry, skin, 0.3)
    assert tangent is not None
    ahead = tangent.along * np.sign(tangent.along[0])
    slope = run_slope(outlines, entry, up, ahead)
    assert slope == pytest.approx(np.tan(np.deg2rad(slope_deg)), abs=0.01)
    # An axis that stands square to the skin doesn't lean along the rim.
    axis = np.repeat(skin[:2, None], DRAWS.count, axis=1)
    run = Run(slope * np.sign(tangent.along[0]), np.full(DRAWS.count, skin_lean(skin)))
    square = along_rim(axis, tangent, 1.0, (DRAWS, "A", "entry"), run).mean()
    seen = along_rim(axis, tangent, 1.0, (DRAWS, "A", "entry"), None).mean()
    assert square == pytest.approx(0.0, abs=0.3)
    assert abs(seen) > 2.0 or slope_deg == 0.0


def skin_lean(skin: np.ndarray) -> float:
    """Return the tangent of the skin's lean toward the viewer."""
    return float(-skin[2] / np.hypot(skin[0], skin[1]))


def test_outlines_from_one_height_tell_no_slope() -> None:
    cameras = [camera_at(rise) for rise in (0.0, 5.0, 10.0)]
    lines = [Outline(f"{i}", c, upper_outline(c), 0.3) for i, c in enumerate(cameras)]
    up, ahead = np.array([0.0, -1.0]), np.array([1.0, 0.0])
    assert run_slope(lines, entry_at(0.0), up, ahead) is None
    assert run_slope([], entry_at(0.0), up, ahead) is None


@pytest.mark.parametrize("lean_deg", [-20.0, 0.0, 15.0])
def test_the_skin_s_lean_on_a_round_rim_is_found(lean_deg: float) -> None:
    outlines = [
        Outline(f"{rise}", camera, upper_outline(camera), 0.3)
        for rise in (-32.0, 0.0, 20.0, 38.0)
        for camera in [camera_at(rise, 5.0)]
    ]
    entry = entry_at(lean_deg)[:, None] + 0.01 * DRAWS.normal("dot", 3).T
    up = np.array([0.0, -1.0])
    found = across_rim(outlines, entry, up, DRAWS)
    assert found is not None
    assert np.rad2deg(found.mean()) == pytest.approx(lean_deg, abs=1.0)
    assert 1.4 < np.rad2deg(found.std()) < 8.0


def test_too_few_outlines_or_all_from_one_height_tell_nothing_across() -> None:
    entry = np.repeat(entry_at(0.0)[:, None], DRAWS.count, axis=1)
    up = np.array([0.0, -1.0])
    for rises in ((0.0, 30.0), (0.0, 5.0, 10.0, 15.0)):
        cameras = [camera_at(rise) for rise in rises]
        lines = [Outline(f"{i}", c, upper_outline(c), 0.3) for i, c in enumerate(cameras)]
        assert across_rim(lines, entry, up, DRAWS) is None


@pytest.mark.parametrize(("side", "sign"), [("left", 1.0), ("right", -1.0)])
def test_along_the_rim_is_positive_toward_the_face(side: str, sign: float) -> None:
    camera = camera_at(0.0)
    tangent = tangent_in(camera, upper_outline(camera), entry_at(0.0), np.array([0.0, -1.0, 0]), 1)
    assert tangent is not None
    lean = np.deg2rad(12.0)  # the axis's upper end goes to the left as seen
    axis = np.repeat([[-np.sin(lean)], [-np.cos(lean)]], DRAWS.count, axis=1)
    face = 1.0 if side == "left" else -1.0
    found = along_rim(axis, tangent, face, (DRAWS, "A", "entry"), None)
    assert found.mean() == pytest.approx(12.0 * sign, abs=0.3)
    turned = along_rim(-axis, tangent, face, (DRAWS, "A", "entry"), None)
    assert turned.mean() == pytest.approx(found.mean(), abs=1e-6)


def test_the_whole_angle_is_that_between_two_vectors() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        rise, along, lean = rng.uniform(-0.6, 0.6, 3)
        run, out, viewer = np.eye(3)
        axis = np.cos(rise) * (np.sin(along) * run + np.cos(along) * out) + np.sin(rise) * viewer
        normal = np.cos(lean) * out + np.sin(lean) * viewer
        # In the card's frame: the run along x, out is up (-y), the viewer at -z.
        card = np.stack([axis[0:1], -axis[1:2], -axis[2:3]])
        across, whole = whole_angle(card, np.array([np.rad2deg(along)]), np.array([lean]))
        assert across[0] == pytest.approx(np.rad2deg(rise - lean))
        assert whole[0] == pytest.approx(np.rad2deg(np.arccos(axis @ normal)))


def test_a_contour_s_tangent_and_its_u_come_true_over_repeated_marking() -> None:
    arc = np.deg2rad(np.linspace(-40.0, 40.0, 25))
    circle = 18.0 * np.column_stack([np.sin(arc), -np.cos(arc)])
    rng, turns, heights = np.random.default_rng(5), [], []
    start, way = np.array([0.0, -14.0]), np.array([0.0, -1.0])
    for _ in range(400):
        found = edge_line(circle + 0.1 * rng.standard_normal(circle.shape), start, way, 0.1, 7.0)
        assert found is not None
        turns.append(np.arctan2(found.along[1] * np.sign(found.along[0]), abs(found.along[0])))
        heights.append(found.at[1] + 18.0)
    assert np.mean(turns) == pytest.approx(0.0, abs=3 * found.u_turn / 20)
    assert np.std(turns) == pytest.approx(found.u_turn, rel=0.15)
    assert np.std(heights) == pytest.approx(found.u_across, rel=0.25)


def test_a_contour_that_passes_by_or_has_too_few_vertices_tells_nothing() -> None:
    line = np.array([[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]])
    assert crossing(line, np.array([5.0, 1.0]), np.array([0.0, 1.0])) is None
    assert edge_line(line, np.array([1.0, 1.0]), np.array([0.0, 1.0]), 0.1, 7.0) is None


def test_what_is_not_measured_says_what_would_measure_it() -> None:
    nothing = seat_sentences(Seat())
    assert all("not measured" in said and TRACE_BOTH in said for said in nothing)
    along = EndSeat(DRAWS.normal("along"))
    assert TRACE_MORE in end_sentence("entry", along)
    assert LOOK in end_sentence("exit", along)
    whole = EndSeat(along.along_deg, 4.0 + DRAWS.normal("across"), 7.3)
    said = end_sentence("entry", whole)
    assert "not measured" not in said
    assert "flush to within 7 deg, 95 times in 100" in said
    assert "between 2 and 6 (positive outward)" in said.replace(".0", "")
