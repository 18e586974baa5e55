"""Which photo to take next, for photos whose cameras are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from assess.marks import CardShift, Marks
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.scale import print_scale
from assess.view_guide import RIM_MM, Guide, guide, sight_in
from assess.view_set import VIEWS
from calibration.lens import Camera
from calibration.next_view import camera_toward
from calibration.pose import PlaneFit

MIDDLE = np.array([69.0, 62.0, 0.0])
LENS = PlaneFit(
    Camera(3000.0, 3000.0, 1999.5, 1499.5), np.zeros(3), np.zeros(3), np.eye(8), 0.1, 50
)
STRAIGHT = ((0, 0), (30, 2), (45, -2), (-46, 0), (-56, 0))
FANNED = tuple(view.sight_deg("left") for view in VIEWS)


def way(rise_deg: float, aside_deg: float) -> np.ndarray:
    """Return the direction of a sight, card frame: x right, y down, z away from the viewer."""
    rise, aside = np.deg2rad([rise_deg, aside_deg])
    return np.array([np.cos(rise) * np.sin(aside), -np.sin(rise), -np.cos(rise) * np.cos(aside)])


def reading(name: str, rise_deg: float, aside_deg: float) -> PhotoReading:
    fit = camera_toward(LENS, MIDDLE, way(rise_deg, aside_deg), 260.0)
    x, y = fit.project(MIDDLE[None])[0]
    bare = PhotoReading(name, (4000, 3000), None, fit, print_scale(None, None), (), None)
    return replace(bare, target_px=(float(x), float(y)), tilt_deg=abs(rise_deg))


def readings(sights: Sequence[tuple[float, float]]) -> list[PhotoReading]:
    return [reading(f"{i}.jpg", *sight) for i, sight in enumerate(sights)]


def with_shift(u_mm: float) -> Marks:
    held = {"format": "rimspan-marks/1", "side": "left", "photos": [{"file": "x.jpg"}]}
    return parse_marks(held).model_copy(update={"card_shift": CardShift(u_mm=u_mm)})


def known(found: Guide) -> tuple[float, float]:
    hand, snapped = found.u_mm
    assert hand is not None
    assert snapped is not None
    return hand, snapped


@pytest.mark.parametrize("sight", [(0.0, 0.0), (20.0, 18.0), (-35.0, -12.0)])
def test_a_photo_is_told_by_where_it_was_taken_from(sight: tuple[float, float]) -> None:
    found = sight_in(reading("a.jpg", *sight))
    assert found is not None
    assert (found.rise_deg, found.aside_deg) == pytest.approx(sight, abs=1e-6)


def test_from_round_about_tells_more_than_straight_up_and_down() -> None:
    """As the tables of benchmarks/views.md have it, where dots and noise are drawn: under half."""
    straight = guide(readings(STRAIGHT), with_shift(0.0), "left")
    fanned = guide(readings(FANNED), with_shift(0.0), "left")
    assert straight.straight
    assert not fanned.straight
    for up_and_down, fan in zip(known(straight), known(fanned), strict=True):
        assert fan < 0.6 * up_and_down
    assert straight.next is not None
    assert abs(straight.next.aside_deg) > 20.0  # to the side, not on up or down
    assert fanned.next is None  # what is asked for is enough


@pytest.mark.parametrize("u_mm", [0.0, 0.5])
def test_followed_from_a_square_on_photo_it_goes_round_the_ear(u_mm: float) -> None:
    sights = [(0.0, 0.0)]
    while (following := guide(readings(sights), with_shift(u_mm), "left").next) is not None:
        sights.append((following.rise_deg, following.aside_deg))
        assert len(sights) < 7
    for sign in (1.0, -1.0):
        own = [(rise, aside) for rise, aside in sights if sign * rise > 5.0]
        assert len(own) == 2
        assert way(*own[0]) @ way(*own[1]) < np.cos(np.deg2rad(45.0))  # far from each other
        assert max(sign * aside for _, aside in own) == 45.0  # behind the ear; from the face side


def test_with_too_few_photos_the_channel_cannot_be_told() -> None:
    for count in range(1, 4):
        found = guide(readings(STRAIGHT[:count]), None, "left")
        assert found.u_mm == (None, None)
        assert found.next is not None
    missing_one = guide(readings(STRAIGHT[:4]), None, "left")
    assert missing_one.u_mm == (None, None)
    assert missing_one.next is not None
    assert missing_one.next.rise_deg < 0  # the exit is seen from below, so far once
    assert None not in missing_one.next_u_mm


def test_what_the_next_photo_brings_is_what_it_then_is() -> None:
    before = guide(readings(STRAIGHT), None, "left")
    assert before.next is not None
    place = (before.next.rise_deg, before.next.aside_deg)
    after = guide(readings((*STRAIGHT, place)), None, "left")
    assert after.u_mm == pytest.approx(before.next_u_mm, rel=0.02)


def test_a_card_on_a_headband_tells_more() -> None:
    loose, fixed = (guide(readings(FANNED), with_shift(u), "left") for u in (0.5, 0.0))
    assert known(fixed)[1] < known(loose)[1]


def test_dots_in_one_photo_only_are_named_and_those_it_lacks_asked_for_further_down() -> None:
    sights = readings(((0, 0), (20, 0), (35, 0), (-20, 0), (-33, 0)))
    dots = {kind: [2000.0, 1500.0 + 40.0 * off[1]] for kind, off in RIM_MM.items()}
    show = [
        ("crest", "floor"),
        ("entry", "crest"),
        ("entry",),
        ("crest", "floor"),
        ("exit", "floor"),
    ]
    photos = [
        {"file": f"{i}.jpg", "placements": [{"label": "A", **{n: dots[n] for n in names}}]}
        for i, names in enumerate(show)
    ]
    marks = parse_marks({"format": "rimspan-marks/1", "side": "left", "photos": photos})
    found = guide(sights, marks, "left")
    assert found.lacking == ("A/exit",)
    assert found.u_mm == (None, None)
    assert found.next is not None
    # At -20 it didn't show: from further down, or from the face side.
    assert found.next.rise_deg <= -25.0 or found.next.aside_deg <= -40.0


def test_a_shallow_set_is_asked_for_a_photo_that_shows_exits() -> None:
    """As rendered ears show their dots: at -20 and -35 degrees few exits are seen twice."""
    shallow = ((0, 0), (30, 25), (45, -25), (-20, 25), (-35, -25))
    found = guide(readings(shallow), None, "left")
    assert found.u_mm == (None, None)
    assert found.next is not None
    assert found.next.rise_deg <= -33.0 or found.next.aside_deg <= -40.0  # from the face side
    assert None not in found.next_u_mm


def test_the_sides_of_a_right_ear_are_those_of_a_left_one_in_a_mirror() -> None:
    left = guide(readings(FANNED[:4]), None, "left")
    right = guide(readings([(rise, -aside) for rise, aside in FANNED[:4]]), None, "right")
    assert left.next is not None
    assert right.next is not None
    assert (right.next.rise_deg, right.next.aside_deg) == (left.next.rise_deg, -left.next.aside_deg)
    assert right.next_u_mm == pytest.approx(left.next_u_mm, rel=0.02)


def test_without_any_photo_there_is_nothing_to_reckon_with() -> None:
    found = guide([], None, "left")
    assert found == Guide((), None, (None, None), (None, None), (), straight=False)
