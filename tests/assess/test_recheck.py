"""A post held against its baseline, on an invented rim seen by a known camera."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from assess.errors import MarksError
from assess.marks import CardMarks, Marks, PhotoMarks, PlacementMarks
from assess.reading import PhotoReading, sight
from assess.recheck import MOST_VIEW_DEG, compare
from assess.recheck_carry import Pair
from assess.recheck_change import Change, InSpace, NotComparable, Shift, Turned
from assess.recheck_marks import PostMarks, WornPost, parse_posts
from assess.recheck_match import projected_outlines
from assess.recheck_pair import pair_of
from assess.recheck_words import (
    SHARPEN,
    change_sentences,
    moved_sentences,
    not_comparable_sentence,
)
from calibration.draws import Draws
from calibration.frames import Array
from tests.assess.conftest import square_on

MIDDLE = np.array([60.0, 50.0])
"""The post's middle, mm, card frame: what the camera looks at."""
SIGMA_PX, END_PX = 0.5, 0.2
DRAWS = Draws(1, 20_000, "baseline"), Draws(1, 20_000, "now")
CARD = CardMarks(id="rimspan-frame-1")


def rim(wide: float = 16.0, high: float = 28.0) -> tuple[Array, Array]:
    """Return an invented rim about the post, (N, 2) mm each: it is no circle."""
    turn = np.deg2rad(np.linspace(170.0, -20.0, 48))
    outer = np.column_stack([wide * np.cos(turn) + 2.0 * np.cos(2 * turn), -high * np.sin(turn)])
    inner = outer * 0.72
    at = outer[np.argmin(np.abs(outer[:, 0]))]
    return outer - at - [0.0, 3.5], inner - at - [0.0, 3.5]


POST = np.array([[0.0, -7.0], [0.0, 7.0]])
"""Both ends' centres about the middle, mm: entry, exit."""


def turned(points: Array, deg: float, shift: tuple[float, float] = (0.0, 0.0)) -> Array:
    c, s = np.cos(np.deg2rad(deg)), np.sin(np.deg2rad(deg))
    return points @ np.array([[c, s], [-s, c]]) + shift


def visit(
    post: Array,
    lines: tuple[Array, Array] | None = None,
    reading: PhotoReading | None = None,
    card: CardMarks | None = CARD,
) -> tuple[Marks, PostMarks, PhotoReading]:
    """Return a visit's one photo: post and rim, mm about the middle, marked without error."""
    seen = reading or square_on()
    assert seen.fit is not None
    fit = seen.fit

    def px(points: Array) -> list[tuple[float, float]]:
        at = np.column_stack([points + MIDDLE, np.zeros(len(points))])
        return [(float(x), float(y)) for x, y in fit.project(at)]

    outer, inner = lines or rim()
    entry, exit_ = px(post)
    photo = PhotoMarks(
        file="a.jpg",
        sigma_px=SIGMA_PX,
        outer_rim=tuple(px(outer)),
        inner_rim=tuple(px(inner)),
        placements=(PlacementMarks(label="A"),),
    )
    marks = Marks(format="rimspan-marks/1", side="left", card=card, photos=(photo,))
    return marks, PostMarks(entry, exit_, None, END_PX), seen


Visited = tuple[Marks, PostMarks, PhotoReading]


def pair(first: Visited, later: Visited) -> Pair:
    found = pair_of(
        (first[0], later[0]), ("a.jpg", "a.jpg"), (first[1], later[1]), (first[2], later[2])
    )
    assert found is not None
    return found


def change(
    first: Visited,
    later: Visited,
    *,
    face: float = 1.0,
    worn: tuple[WornPost, WornPost] = (WornPost(), WornPost()),
) -> Change:
    found = compare("A", pair(first, later), worn, face, DRAWS)
    assert isinstance(found, Change)
    return found


def tilted(deg: float, about: int = 1) -> PhotoReading:
    """Return the reading of a photo taken so many degrees from aside or (about x) below."""
    plain = square_on()
    assert plain.fit is not None
    assert plain.target_px is not None
    rvec = np.zeros(3)
    rvec[about] = np.deg2rad(deg)
    turn, _ = cv2.Rodrigues(rvec)
    at = np.array([*MIDDLE, 0.0])
    tvec = np.array([0.0, 0.0, 300.0]) - np.asarray(turn) @ at
    fit = replace(plain.fit, rvec=rvec, tvec=tvec)
    tilt, distance = sight(fit, plain.target_px, 0.0)
    return replace(plain, fit=fit, tilt_deg=tilt, distance_mm=distance)


def test_the_same_again_is_no_measurable_change() -> None:
    found = change(visit(POST), visit(POST))
    assert found.tilt.value == pytest.approx(0.0, abs=0.2)
    assert not found.tilt.moved
    assert not any(shift.moved for shift in found.ends.values())
    said = " ".join(change_sentences(found))
    assert said.count("no measurable change") == 3
    assert "no diagnosis" in said


def test_what_would_show_less_is_said_where_a_large_u_hides_it() -> None:
    still = change(visit(POST), visit(POST))
    wide, near = Turned(0.4, 2.6), Turned(0.4, 2.5)  # U = 1.96 u: 5.1 and 4.9 degrees
    assert SHARPEN in change_sentences(replace(still, tilt=wide))
    assert SHARPEN not in change_sentences(replace(still, tilt=near))
    assert SHARPEN not in change_sentences(replace(still, tilt=Turned(9.0, 2.6)))
    how = InSpace((("a", "b"), ("c", "d")), ("tie1", "tie2", "tie3"), ())
    assert SHARPEN not in change_sentences(replace(still, tilt=wide, in_space=how))


def test_one_way_is_told_with_one_number() -> None:
    still = change(visit(POST), visit(POST))
    said = {}
    for way in ((0.0, -2.0), (1.5, -2.0)):
        moved = Shift(np.array(way), np.diag([0.04, 0.04]))
        (said[way],) = moved_sentences(replace(still, ends={"exit": moved}))[1:]
    one, two = said.values()
    assert "moved by 2.00 mm toward the back, ± 0.49 mm." in one
    assert "moved by 2.50 mm (1.50 mm up the axis and 2.00 mm toward the back), ± 0.49 mm." in two


@pytest.mark.parametrize("face", [1.0, -1.0])
def test_a_post_that_leans_to_the_left_is_found_and_told_by_the_face(face: float) -> None:
    """Turned by -12 degrees (y runs down) the upper end goes left: to the face of a left ear."""
    found = change(visit(POST), visit(turned(POST, -12.0)), face=face)
    assert found.tilt.value == pytest.approx(12.0 * face, abs=0.3)
    assert found.tilt.moved
    aside = 7.0 * np.sin(np.deg2rad(12.0))
    assert found.ends["entry"].vector[1] == pytest.approx(face * aside, abs=0.15)
    assert found.ends["exit"].vector[1] == pytest.approx(-face * aside, abs=0.15)
    words = "toward the face" if face > 0 else "toward the back"
    assert words in change_sentences(found)[0]


def test_a_shift_is_told_along_the_axis_and_toward_the_face() -> None:
    found = change(visit(POST), visit(POST + np.array([2.5, -1.0])))
    for end in ("entry", "exit"):
        np.testing.assert_allclose(found.ends[end].vector, [1.0, -2.5], atol=0.1)  # type: ignore[index]
        assert found.ends[end].moved  # type: ignore[index]
    assert not found.tilt.moved


def test_an_ear_that_lies_otherwise_before_the_card_changes_nothing() -> None:
    lines = tuple(turned(line, 9.0, (4.0, -3.0)) for line in rim())
    found = change(visit(POST), visit(turned(POST, 9.0, (4.0, -3.0)), (lines[0], lines[1])))
    assert found.tilt.value == pytest.approx(0.0, abs=0.3)
    for shift in found.ends.values():
        assert shift.size < 0.15


def test_swelling_beside_the_post_is_left_out() -> None:
    outer, inner = rim()
    bump = 2.0 * np.exp(-0.5 * (outer[:, 0] / 3.0) ** 2) * (outer[:, 1] < 5.0)
    found = change(visit(POST), visit(POST, (outer - np.column_stack([0 * bump, bump]), inner)))
    assert abs(found.tilt.value) < 0.3
    assert not any(shift.moved for shift in found.ends.values())


def test_a_longer_post_reaches_further_down_by_as_much() -> None:
    longer = POST + np.array([[0.0, 0.0], [0.0, 2.0]])
    told = (WornPost(length_mm=8.0), WornPost(length_mm=10.0))
    assert change(visit(POST), visit(longer), worn=told).ends["exit"].size < 0.1
    untold = change(visit(POST), visit(longer)).ends["exit"]
    assert untold.moved
    assert untold.vector[0] == pytest.approx(-2.0, abs=0.1)


def test_a_straight_rim_says_that_sliding_along_it_is_open() -> None:
    x = np.linspace(-25.0, 25.0, 40)
    straight = (np.column_stack([x, np.full(40, -3.5)]), np.column_stack([x, np.full(40, 3.5)]))
    found = change(visit(POST, straight), visit(POST, straight))
    for shift in found.ends.values():
        along, across = np.sqrt(np.diag(shift.covariance))
        assert across > 10.0  # toward the face: along the rim
        assert along < 1.0


def test_a_view_over_five_degrees_off_is_refused_and_says_where_to_go() -> None:
    for deg in (4.0, 7.0):
        found = compare(
            "A", pair(visit(POST), visit(POST, reading=tilted(deg))), (WornPost(),) * 2, 1.0, DRAWS
        )
        assert isinstance(found, NotComparable) == (deg > MOST_VIEW_DEG)
    assert isinstance(found, NotComparable)
    assert found.why == "view"
    assert found.view_change_deg == pytest.approx(7.0, abs=0.1)
    said = not_comparable_sentence(found)
    assert "7° off" in said
    # Turned about y by +7 degrees the camera stands to the right of the card's normal.
    camera = tilted(7.0).fit.centre_mm  # type: ignore[union-attr]
    side = "left" if camera[0] > MIDDLE[0] else "right"
    assert f"7° to the {side}" in said


def test_the_earlier_outline_lies_on_the_rim_from_the_same_view() -> None:
    first, later = visit(POST), visit(POST)
    shown = projected_outlines(pair(first, later).baseline, later[2], 0.0, None)
    marked = np.array(later[0].photos[0].outer_rim)
    gap = np.linalg.norm(shown["outer"][:, None] - marked[None], axis=2).min(axis=1)
    assert gap.max() < 0.1
    aside = projected_outlines(pair(first, later).baseline, later[2], 0.0, np.array([900.0, 600.0]))
    moved = aside["outer"] - shown["outer"]
    np.testing.assert_allclose(
        moved, np.tile([900.0 - 799.5, 600.0 - 599.5], (len(moved), 1)), atol=1e-6
    )


def test_the_covariance_is_that_of_the_draws() -> None:
    found = change(visit(POST), visit(turned(POST, -5.0)))
    drawn = np.cov(found.draws)
    assert np.sqrt(drawn[0, 0]) == pytest.approx(found.tilt.u, rel=0.03)
    np.testing.assert_allclose(drawn[1:3, 1:3], found.ends["entry"].covariance, rtol=0.1, atol=5e-4)
    total = sum(part[0] for part in found.parts.values())
    assert np.sqrt(total) == pytest.approx(found.tilt.u, rel=1e-9)


def test_one_print_is_one_input_of_both_visits_and_two_prints_are_two() -> None:
    one = change(visit(POST), visit(POST))
    assert "common" in one.parts
    other = CardMarks(id="rimspan-frame-1", check_bar_mm=(100.2, 100.1))
    two = change(visit(POST), visit(POST, card=other))
    assert {"baseline: common", "now: common"} <= set(two.parts)
    # A scale that both share moves nothing of a post that stayed: it goes out of the difference.
    assert one.parts["common"].max() < 0.05 * two.parts["baseline: common"].max()


def test_more_told_about_the_rims_tilt_makes_u_smaller() -> None:
    found = []
    for u_tilt in (5.8, 1.0):
        marks, post, seen = visit(POST)
        plane = marks.rim_plane.model_copy(update={"u_tilt_deg": u_tilt})
        told = marks.model_copy(update={"rim_plane": plane}), post, seen
        found.append(change(told, told).tilt.u)
    assert found[1] < 0.6 * found[0]


def test_below_its_own_u_nothing_moved() -> None:
    assert not Turned(1.9, 1.0).moved
    assert Turned(2.0, 1.0).moved
    assert not Shift(np.array([2.4, 0.0]), np.eye(2)).moved
    assert Shift(np.array([0.0, 2.5]), np.eye(2)).moved


def test_too_little_rim_and_no_axis_are_said() -> None:
    few = rim()
    near = (few[0][20:28], few[1][20:28])
    found = compare("A", pair(visit(POST), visit(POST, near)), (WornPost(),) * 2, 1.0, DRAWS)
    assert isinstance(found, NotComparable)
    assert found.why == "no_rim"
    marks, post, seen = visit(POST)
    lone = marks, replace(post, exit_end=None), seen
    found = compare("A", pair(lone, visit(POST)), (WornPost(),) * 2, 1.0, DRAWS)
    assert isinstance(found, NotComparable)
    assert found.why == "no_axis"


def document(**post: object) -> dict[str, object]:
    placement = {"label": "A", "x_post": post}
    return {"photos": [{"file": "a.jpg", "placements": [placement]}], "x_posts": {}}


def test_the_posts_marks_are_read_from_their_own_fields() -> None:
    told = document(entry_end=[1, 2], exit_end=[3, 40.5], u_px=0.4)
    told["x_posts"] = {"A": {"length_mm": 9.525}}
    found = parse_posts(told)
    assert found.photos["a.jpg"]["A"] == PostMarks((1.0, 2.0), (3.0, 40.5), None, 0.4)
    assert found.of("A") == WornPost(9.525)
    assert found.labels() == ("A",)


@pytest.mark.parametrize(
    ("post", "fault"),
    [
        ({"entry_end": [1]}, "entry_end must be two finite numbers"),
        ({"entry": [1, 2]}, "x_post.entry is not a known name"),
        ({"axis": [[1, 2]]}, "axis must be two points"),
        ({"u_px": -1}, "u_px must be a finite number from 0 up"),
        ({"entry_end": [1, 2], "exit_end": [1, 2.5]}, "has both ends at one place"),
    ],
)
def test_a_wrong_post_is_refused_by_its_field(post: dict[str, object], fault: str) -> None:
    with pytest.raises(MarksError) as error:
        parse_posts(document(**post), "m.json")
    assert fault in str(error.value).replace(": must", " must").replace(": is", " is").replace(
        ": has", " has"
    )
    assert "photos[0].placements[0].x_post" in str(error.value)
