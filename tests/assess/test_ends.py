"""Ends at true size, what stands out, and what jewellery may be used to begin with."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from assess.ends import (
    End,
    RoomNeeds,
    disc_room_mm,
    exposed_mm,
    leverage,
    normal_at,
    room_below,
    seat_deg,
    stands_off_mm,
    unsuitable_first,
)
from assess.worn_post import worn_post

DISC, BALL, SPIKE = End("disc", 4.0, 1.0), End("ball", 3.0, 3.0), End("pointed", 2.5, 4.0)


def test_an_axis_along_the_normal_sits_flush_and_a_leaning_one_stands_off() -> None:
    normal = np.array([0.0, -2.0])
    leans = np.deg2rad([0.0, 10.0, 30.0])
    axes = np.column_stack([np.sin(leans), -np.cos(leans)])
    seat = seat_deg(axes, normal)
    np.testing.assert_allclose(seat, [0.0, 10.0, 30.0], atol=1e-9)
    # Width times sine: 4 mm at 30 degrees stand off by 2 mm.
    np.testing.assert_allclose(stands_off_mm(seat, DISC), [0.0, 0.69459, 2.0], atol=1e-5)


def test_the_normal_of_a_circle_points_to_its_middle() -> None:
    angle = np.linspace(0.0, np.pi, 400)
    circle = 20.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    for at in (0.7, 1.5, 2.4):
        out = np.array([np.cos(at), np.sin(at)])
        assert float(seat_deg(normal_at(circle, 20.0 * out), out)) < 0.23  # half a step


def test_what_stands_out_adds_up_to_the_spare_length_and_is_never_negative() -> None:
    spare = np.array([-0.4, 0.0, 1.0, 3.0])
    top, bottom = exposed_mm(spare, 0.25)
    np.testing.assert_allclose(top + bottom, [0.0, 0.0, 1.0, 3.0])
    np.testing.assert_allclose(top, [0.0, 0.0, 0.25, 0.75])
    with pytest.raises(ValueError, match="share_top"):
        exposed_mm(spare, 1.5)


@pytest.mark.practice("common practice, no source")
def test_excess_length_gives_leverage() -> None:
    channel = np.full(2, 7.0)
    long, short = leverage(np.array([3.0, 0.8]), DISC, channel)
    assert long == pytest.approx(4.0 / 3.5)
    assert short < 1.0 < long


@pytest.mark.practice("common practice, no source")
def test_rings_curved_bars_and_points_are_not_for_the_beginning() -> None:
    assert unsuitable_first("labret", (BALL, DISC)) == ()
    assert unsuitable_first("barbell", (BALL, BALL)) == ()
    assert unsuitable_first("ring", (BALL, BALL)) == ("ring",)
    assert unsuitable_first("curved bar", (BALL, SPIKE)) == ("curved bar", "pointed end")
    assert unsuitable_first("other", (BALL, BALL)) == ("not straight",)


def test_room_below_is_for_end_and_swelling_and_before_that_for_needle_or_tool() -> None:
    room = np.array([6.0])
    left = room_below(room, np.array([1.5]), DISC, RoomNeeds(1.0, 3.0, 4.0))
    assert left.worn_mm.tolist() == [3.5]  # 6 less 1.5 that stands out, less an end of 1
    assert left.pierced_mm.tolist() == [2.0]
    swollen = room_below(room, np.array([0.2]), DISC, RoomNeeds(1.0, 5.0, 4.0))
    assert swollen.worn_mm.tolist() == [4.0]  # swelling takes more than the post
    assert swollen.pierced_mm.tolist() == [1.0]


walls = st.lists(
    st.tuples(st.integers(-8000, 8000), st.integers(-3000, 9000)), min_size=1, max_size=6
)


@pytest.mark.published(source="shapely 2 (GEOS)", where="distance of Points and a box")
@settings(deadline=None)
@given(walls, st.floats(0.0, 3.0))
def test_a_discs_room_in_the_fold_is_shapely_s_distance(
    wall: list[tuple[int, int]], reach: float
) -> None:
    points = np.array(wall) / 1000.0
    box = shapely.box(-2.0, reach, 2.0, reach + 1.0)
    found = disc_room_mm(points, np.zeros(2), np.array([0.0, 1.0]), DISC, reach)
    theirs = float(shapely.distance(shapely.MultiPoint(points), box))
    assert max(found, 0.0) == pytest.approx(theirs, abs=1e-9)
    if found < -1e-6:
        assert any(box.contains(shapely.Point(p)) for p in points)


def test_a_post_at_first_and_after_downsizing() -> None:
    channel = np.random.default_rng(1).normal(7.0, 0.3, 20_000)
    room = np.random.default_rng(2).normal(6.0, 0.3, 20_000)
    now = worn_post("now", 10.0, channel, (BALL, DISC), room)
    later = worn_post("downsized", 7.9375, channel, (BALL, DISC), room)
    assert now.each_side.value == pytest.approx(1.5, abs=0.01)
    assert now.most.value == pytest.approx(3.0, abs=0.01)
    assert later.most.value == pytest.approx(0.94, abs=0.01)
    assert later.arm < now.arm
    assert now.presses < 1e-3
    assert now.room_worn is not None
    assert now.room_worn.value == pytest.approx(2.0, abs=0.02)  # 6 - 3 - 1
    assert later.room_pierced is None
    assert worn_post("now", 10.0, channel, (BALL, DISC)).fits is None
    # Against the normal law: room less what stands out, less the end, has u 0.42 mm about 2 mm;
    # the tool needs 4 of 6 mm, u 0.3: both are all but certain.
    assert now.fits == pytest.approx(1.0, abs=1e-3)
    tight = worn_post("now", 10.0, channel, (BALL, DISC), room - 2.0)
    assert tight.fits is not None
    assert 0.2 < tight.fits < 0.5


def test_an_end_has_a_size() -> None:
    with pytest.raises(ValueError, match="over 0"):
        End("disc", 0.0, 1.0)
