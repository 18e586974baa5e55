"""Lengths in space from triangulated dots, the rim's plane, and what is said of them."""

import numpy as np
import pytest

from assess.marks import PhotoMarks, PlacementMarks, RimPlane
from assess.reading import PhotoReading
from assess.rim_plane import plane_slopes
from assess.scale import PrintScale
from assess.space import TIE, dots_in, in_space, placement_in_space, print_prior
from assess.space_plane import seen_plane
from assess.space_wording import (
    loose_sentence,
    point_sentence,
    point_words,
    refusal_sentence,
    sentences,
)
from calibration.draws import Draws
from calibration.quantity import Quantity
from calibration.views import PointRefused, ViewsRefused, ViewsSolved, measure_views
from tests.dot_sets import DOTS, MIDDLE, TIES, dot_set, moved_mark

SCALE = PrintScale(1.0, 1.0, (0.0005, 0.0006), 0.0, verified=True)
DRAWS = Draws(1, 20_000)


@pytest.fixture(scope="module")
def five() -> ViewsSolved:
    found = measure_views(dot_set(np.random.default_rng(1)).photos, 0.0, print_prior(SCALE))
    assert isinstance(found, ViewsSolved)
    return found


@pytest.fixture(scope="module")
def moving() -> ViewsSolved:
    found = measure_views(dot_set(np.random.default_rng(2)).photos, 0.5, print_prior(SCALE))
    assert isinstance(found, ViewsSolved)
    return found


def test_channel_relief_lean_and_angle_are_those_of_the_dots(five: ViewsSolved) -> None:
    found = placement_in_space("A", in_space(five, DRAWS), "left")
    assert found.axis is not None
    assert found.relief_mm is not None
    assert found.lean_deg is not None
    along = DOTS["A/entry"] - DOTS["A/exit"]
    for draws, true in (
        (found.axis.channel_mm, np.linalg.norm(along)),
        (found.relief_mm, DOTS["A/floor"][2] - DOTS["A/crest"][2]),
        (found.lean_deg, np.rad2deg(np.arcsin(-along[2] / np.linalg.norm(along)))),
        (found.axis.angle_deg, np.rad2deg(np.arctan2(-along[0], -along[1]))),
    ):
        assert abs(draws.mean() - true) < 3.3 * draws.std()
    assert found.lean_deg.std() < 8.0
    assert found.seen_in["A/exit"] == ("photo 3", "photo 4")
    assert not any(name.startswith(TIE) for name in found.seen_in)


def test_the_parts_add_up_to_the_draws_variance(moving: ViewsSolved) -> None:
    found = placement_in_space("A", in_space(moving, Draws(2, 100_000)), "left")
    assert found.axis is not None
    assert found.relief_mm is not None
    parts = {line.name: line.variance for line in found.axis.lines}
    assert set(parts) >= {
        "mark of the entry",
        "mark of the exit",
        "marks of the spare dots",
        "card corners, pose and lens",
        "movement of the card between the photos",
        "scale of the print",
    }
    assert sum(parts.values()) == pytest.approx(found.axis.channel_mm.var(), rel=0.05)
    assert sum(line.variance for line in found.relief_lines) == pytest.approx(
        found.relief_mm.var(), rel=0.03
    )


def test_the_same_seed_gives_the_same_draws_and_shared_inputs_correlate(five: ViewsSolved) -> None:
    one, again = (in_space(five, DRAWS) for _ in range(2))
    np.testing.assert_array_equal(one.draws, again.draws)
    mark = DRAWS.normal("mark: photo 1: A/entry", 2)
    depth = one.of("A/entry")[2]
    correlation = [np.corrcoef(mark[:, k], depth)[0, 1] for k in (0, 1)]
    assert np.abs(correlation).max() > 0.1


def test_what_isnt_triangulated_is_none(five: ViewsSolved) -> None:
    photos = [
        p.with_marks({n: m for n, m in p.marks.items() if n not in {"A/exit", "A/floor"}})
        for p in dot_set(np.random.default_rng(3)).photos
    ]
    solved = measure_views(photos, 0.0, print_prior(SCALE))
    assert isinstance(solved, ViewsSolved)
    found = placement_in_space("A", in_space(solved, DRAWS), "left")
    assert found.axis is None
    assert found.lean_deg is None
    assert found.relief_mm is None
    assert placement_in_space("B", in_space(five, DRAWS), "left").seen_in == {}


def test_room_below_is_measured_to_the_next_structure() -> None:
    true = dot_set(np.random.default_rng(4))
    below = MIDDLE + np.array([-0.5, 10.0, 1.5])
    for photo, camera in zip(true.photos, true.cameras, strict=True):
        x, y = camera.project(below[None])[0]
        mark = photo.marks["A/crest"]
        photo.marks["A/below"] = type(mark)((float(x), float(y)), mark.u_px)  # type: ignore[index]
    solved = measure_views(true.photos, 0.0, print_prior(SCALE))
    assert isinstance(solved, ViewsSolved)
    axis = placement_in_space("A", in_space(solved, DRAWS), "right").axis
    assert axis is not None
    assert axis.room_below_mm is not None
    room = Quantity.from_draws(axis.room_below_mm, "mm")
    assert room.low < np.linalg.norm(below - DOTS["A/exit"]) < room.high


def reading(*, size=(4000, 3000)) -> PhotoReading:
    return PhotoReading("a.jpg", size, None, None, SCALE, (), None)


def test_outlines_are_no_dots_and_each_mark_has_its_own_u() -> None:
    placement = PlacementMarks(
        label="A",
        entry=(10.0, 20.0),
        exit=(30.0, 40.0),
        crest=(15.0, 25.0),
        snapped=("crest",),
        u_px=0.4,
        outline=("exit",),
    )
    photo = PhotoMarks(
        file="a.jpg", placements=(placement,), ties={"lobe": (1.0, 2.0)}, u_ties_px=0.7
    )
    dots = dots_in(photo, reading(), 2.0)
    assert {name: mark.u_px for name, mark in dots.items()} == {
        "A/entry": 2.0,
        "A/crest": 0.4,
        "tie: lobe": 0.7,
    }
    assert dots["A/entry"].at_px == (10.0, 20.0)
    bare = PhotoMarks(file="a.jpg", ties={"lobe": (1.0, 2.0)})
    assert dots_in(bare, reading(), 2.0)["tie: lobe"].u_px == 2.0
    assert dots_in(PhotoMarks(file="a.jpg"), reading(), 2.0) == {}


def test_the_rims_plane_is_where_the_ends_are(five: ViewsSolved) -> None:
    told = RimPlane()
    plane = seen_plane(five.in_photo("photo 0"), ["A/entry", "A/exit"], told)
    assert plane is not None
    middle = (DOTS["A/entry"] + DOTS["A/exit"])[:2] / 2
    seen = plane.plane(middle)
    offset = -(DOTS["A/entry"] + DOTS["A/exit"])[2] / 2
    assert abs(seen.offset_mm - offset) < 3 * seen.u_offset_mm
    assert seen.u_offset_mm < 1.0 < told.u_offset_mm
    assert seen.u_tilt_deg < told.u_tilt_deg
    height, tilt = plane.inputs(middle)
    drawn = height.draw(DRAWS)[0]
    assert drawn.mean() == pytest.approx(seen.offset_mm, abs=0.05)
    assert drawn.std() == pytest.approx(seen.u_offset_mm, rel=0.05)
    # One placement says nothing of the tilt along the rim: what was told stays.
    assert np.rad2deg(tilt.draw(DRAWS)[1]).std() == pytest.approx(told.u_tilt_deg, rel=0.05)
    assert seen_plane(five.points, ["B/entry"], told) is None


def test_a_tilted_plane_of_several_placements_is_seen() -> None:
    true = dot_set(np.random.default_rng(5), u_px=0.2, hide=False)
    slope = np.array([0.15, -0.1])  # of z by x and y
    names = []
    for k, (x, y) in enumerate([(-6, -4), (6, -4), (-6, 4), (6, 4)]):
        at = MIDDLE + np.array([x, y, slope @ [x, y]])
        names.append(f"P{k}/entry")
        for photo, camera in zip(true.photos, true.cameras, strict=True):
            u, v = camera.project(at[None])[0]
            mark = photo.marks["A/crest"]
            photo.marks[names[-1]] = type(mark)((float(u), float(v)), 0.2)  # type: ignore[index]
    solved = measure_views(true.photos, 0.0, print_prior(SCALE))
    assert isinstance(solved, ViewsSolved)
    plane = seen_plane(solved.points, names, RimPlane(u_tilt_deg=15.0))
    assert plane is not None
    _, tilt = plane.inputs(MIDDLE[:2])
    normal = np.array([*plane_slopes(tilt.estimate), -1.0])
    wanted = np.array([slope[0], slope[1], -1.0])
    angle = np.arccos(normal @ wanted / np.linalg.norm(normal) / np.linalg.norm(wanted))
    assert np.rad2deg(angle) < 4.0


def test_what_was_left_out_is_said_by_name() -> None:
    photos = dot_set(np.random.default_rng(6)).photos
    photos[1] = moved_mark(photos[1], "A/crest", (14.0, 9.0))
    found = measure_views(photos, 0.0, print_prior(SCALE))
    assert isinstance(found, ViewsSolved)
    (sentence,) = sentences(found)
    assert "crest of A" in sentence
    assert "photo 1" in sentence
    once = PointRefused("B/floor", "one_view", ("a.jpg",))
    assert "floor of B is marked in a.jpg only" in point_sentence(once)
    narrow = PointRefused("B/exit", "narrow", ("a.jpg", "b.jpg"), 3.2)
    assert "3 degrees" in point_sentence(narrow)
    assert point_words(next(iter(TIES))) == "spare dot antihelix"
    swapped = refusal_sentence(ViewsRefused("swapped", ("a.jpg", "b.jpg"), ()))
    assert "a.jpg and b.jpg" in swapped


def test_a_card_that_may_have_moved_is_named_where_it_rules() -> None:
    photos = dot_set(np.random.default_rng(7), u_px=0.3).photos
    ends = [
        p.with_marks({n: m for n, m in p.marks.items() if n in {"A/entry", "A/exit"}})
        for p in photos
    ]
    said = []
    for some, u_shift_mm in ((ends, 0.5), (photos, 0.5), (ends, 0.0)):
        found = measure_views(some, u_shift_mm, print_prior(SCALE))
        assert isinstance(found, ViewsSolved)
        said.append(loose_sentence(placement_in_space("A", in_space(found, DRAWS), "left")))
    assert said[0] is not None
    assert "may have moved" in said[0]
    assert said[1] is None
    assert said[2] is None
