"""A plan of the marks file on the rim of its photo, in numbers and on the picture."""

import json
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA
from assess.errors import MarksError
from assess.marks import Marks
from assess.measure import read_photos
from assess.plan_measure import MeasuredPlan, measure_plan
from assess.plan_scene import plan_photo, scene
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from calibration.draws import Draws
from calibration.photo import read_photo

SAMPLE = Path(__file__).resolve().parents[2] / "rimspan" / "demo" / "samples" / "three"
DRAWS = Draws(1, 4000)


@cache
def document() -> str:
    return (SAMPLE / "marks-plan.json").read_text("utf-8")


@cache
def readings() -> Mapping[str, PhotoReading]:
    marks = parse_marks(document())
    photos = {each.file: read_photo((SAMPLE / each.file).read_bytes()) for each in marks.photos}
    return read_photos(marks, photos, None)


def marks(**changes: Any) -> Marks:
    found = json.loads(document())
    found["x_plan"] = {n: v for n, v in (found["x_plan"] | changes).items() if v is not None}
    return parse_marks(found)


def measured(given: Marks) -> MeasuredPlan:
    found = measure_plan(given, readings(), DEFAULT_CRITERIA, DRAWS)
    assert found is not None
    return found


def test_three_are_asked_for_and_the_rim_carries_two() -> None:
    out = measured(marks()).out
    assert (out.wanted, out.carries.count, out.carries.why) == (3, 2, "earlier")
    assert "takes the room" in out.carries.sentence
    assert [each.label for each in out.placements] == ["A", "B"]
    assert out.sentences[0].startswith("Three posts asked for; two posts planned, since the rim")
    assert out.supports
    assert out.probability is not None
    assert out.probability >= 0.95


def test_a_post_dragged_too_near_to_its_neighbour_is_told() -> None:
    given = marks()
    assert given.x_plan is not None
    first, second = given.x_plan.placements
    x = 0.75 * second.entry[0] + 0.25 * first.entry[0]
    y = 0.75 * second.entry[1] + 0.25 * first.entry[1]
    near = [{"label": "A", "entry": [x, y]}, {"label": "B", "entry": list(second.entry)}]
    out = measured(marks(placements=near)).out
    assert not out.supports
    assert out.probability is not None
    assert out.probability < 0.05
    assert "Move one of them." in out.distances[0].sentence
    assert out.distances[0].distance_mm < out.distances[0].needed_mm == 10.0


def test_a_plan_goes_to_pixels_and_back() -> None:
    given = marks()
    assert given.x_plan is not None
    at = scene(given, readings(), given.x_plan, DEFAULT_CRITERIA)
    assert at is not None
    plan = at.plan_of(given.x_plan)
    assert plan is not None
    again = given.x_plan.model_copy(update={"placements": at.marks_of(plan)})
    back = at.plan_of(again)
    assert back is not None
    np.testing.assert_allclose(back.arc_mm, plan.arc_mm, atol=0.005)
    assert plan_photo(given, readings()) == given.x_plan.photo


def test_a_channel_that_is_planned_at_a_dot_is_the_channel_that_is_measured() -> None:
    """Front's dots as planned: its length by the rim's lines and by its own marks agree."""
    given = marks()
    placement = given.photos[0].placement("middle")
    assert placement is not None
    assert placement.entry is not None
    assert placement.exit is not None
    at = scene(given, readings(), given.x_plan, DEFAULT_CRITERIA) if given.x_plan else None
    assert at is not None
    entry, exit_ = at.to_mm(np.array([placement.entry, placement.exit]))
    arc = at.rim.curve.arc_of(entry)
    lean = float(at.rim.curve.lean_of(np.array(arc), (exit_ - entry) / np.hypot(*(exit_ - entry))))
    there = [{"label": "A", "entry": list(placement.entry), "lean_deg": lean}]
    (found,) = measured(marks(placements=there)).out.placements
    truth = json.loads(
        (SAMPLE.parents[2].parent / "sample_images" / "three" / "square-on.truth.json").read_text()
    )["placements"]["middle"]["channel_mm"]
    assert abs(found.channel.value - truth) < 2.0 * found.channel.u
    # The structure below was marked at this dot, so the room is known here.
    assert found.posts[0].room_worn is not None
    assert found.posts[0].fits is not None
    # Downsizing takes spare length away, on each side.
    now, later = found.posts
    assert later.each_side.value < now.each_side.value
    assert later.arm < now.arm


def test_what_is_drawn_is_as_large_as_it_is() -> None:
    given = marks()
    found = measured(given)
    assert given.x_plan is not None
    mm = readings()[given.x_plan.photo].mm_per_px(given.rim_plane.offset_mm)
    for when, index in (("now", 0), ("downsized", 1)):
        for post in found.out.placements:
            parts = found.drawing.posts[when][post.label]  # type: ignore[index]
            by_name = {part.name: part.outline for part in parts}
            top, bottom = by_name["upper end"].mean(axis=0), by_name["lower end"].mean(axis=0)
            long_mm = float(np.hypot(*(bottom - top))) * mm
            assert long_mm == pytest.approx(post.posts[index].length_mm + 0.8, rel=0.03)
            wide = by_name["upper end"]
            widest = max(float(np.hypot(*(a - b))) for a in wide for b in wide)
            assert widest * mm == pytest.approx(np.hypot(3.0, 0.8), rel=0.05)


@pytest.mark.practice("common practice, no source")
@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"style": "ring"}, "a ring presses a fresh straight channel"),
        ({"style": "curved bar"}, "a curved bar presses"),
        ({"top": {"shape": "pointed", "width_mm": 3.0, "height_mm": 4.0}}, "a pointed end snags"),
        ({"thread": "outside thread"}, "a thread on the post would be drawn through"),
    ],
)
def test_what_is_unsuitable_to_begin_with_is_named(changes: dict[str, Any], said: str) -> None:
    out = measured(marks(jewellery=changes)).out
    assert said in out.jewellery[1]
    assert not out.supports
    assert len(measured(marks()).out.jewellery) == 1


def test_glasses_that_lie_on_the_upper_end_touch_it() -> None:
    found = json.loads(document())
    out = measured(marks()).out
    a = out.placements[0]
    x, y = a.entry_px
    ends = [{"label": "A", "entry": list(a.entry_px), "exit": list(a.exit_px)}]
    worn = {"format": "rimspan-worn/1", "thing": "glasses", "placements": ends}
    found["photos"][0]["x_worn"] = worn | {"line": [[x - 60, y - 12], [x + 60, y - 12]]}
    said = {(w.end, w.when): w for w in measured(parse_marks(found)).out.worn}
    assert said["entry", "now"].says == "touches"
    assert said["exit", "now"].says == "clear"
    # A line 40 mm above touches nothing.
    found["photos"][0]["x_worn"] = worn | {"line": [[x - 60, y - 400], [x + 60, y - 400]]}
    assert {w.says for w in measured(parse_marks(found)).out.worn} == {"clear"}


def test_a_plan_without_a_rim_to_stand_on_is_none() -> None:
    given = marks(photo="another.jpg")
    assert measure_plan(given, readings(), DEFAULT_CRITERIA, DRAWS) is None
    bare = given.photos[0].model_copy(update={"inner_rim": None})
    blank = marks().model_copy(update={"photos": (bare,)})
    assert measure_plan(blank, readings(), DEFAULT_CRITERIA, DRAWS) is None


def test_nothing_planned_yet_still_says_how_many() -> None:
    out = measured(marks(placements=[])).out
    assert out.placements == ()
    assert out.probability is None
    assert out.carries.count == 2
    assert out.sentences == ("Three posts asked for; nothing is planned yet.",)


def test_a_scene_is_measured_the_same_when_it_is_handed_in() -> None:
    given = marks()
    assert given.x_plan is not None
    at = scene(given, readings(), given.x_plan, DEFAULT_CRITERIA)
    again = measure_plan(given, readings(), DEFAULT_CRITERIA, DRAWS, at=at)
    assert again is not None
    assert again.out == measured(given).out
    other = measure_plan(given, readings(), DEFAULT_CRITERIA, replace(DRAWS, seed=2))
    assert other is not None
    assert other.out != again.out


def test_faults_of_a_plan_are_named_and_another_s_x_plan_is_left_alone() -> None:
    found = json.loads(document())
    with pytest.raises(MarksError, match=r"x_plan\.wanted"):
        parse_marks(found | {"x_plan": found["x_plan"] | {"wanted": 9}})
    for other in ("a plan of mine", {"format": "other/1"}, None, [1]):
        assert parse_marks(found | {"x_plan": other}).x_plan is None
