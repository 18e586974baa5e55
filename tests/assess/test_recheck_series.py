"""What is followed over the visits: what they share, and by how much they drift."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from assess.recheck_change import Change, NotComparable, Shift, Turned
from assess.recheck_series import Point, followups, points_of
from assess.recheck_visit import Rechecked
from calibration.quantity import Quantity

START = date(2026, 11, 20)


def change() -> Change:
    """Return a change whose variance of 9 (tilt) is for 4 the baseline's, for 1 of the print."""
    parts = {
        "baseline: exit_end": np.array([4.0, 0.0, 0.04, 0.0, 0.01]),
        "common": np.array([1.0, 0.0, 0.0, 0.0, 0.0]),
        "now: exit_end": np.array([4.0, 0.09, 0.05, 0.09, 0.08]),
    }
    ends = {
        "entry": Shift(np.array([0.2, 0.6]), np.diag([0.09, 0.09])),
        "exit": Shift(np.array([0.1, -0.3]), np.diag([0.09, 0.09])),
    }
    return Change("A", ("a", "b"), Turned(5.0, 3.0), ends, 1.0, None, np.zeros((5, 1)), parts)  # type: ignore[arg-type]


def test_what_visits_share_is_the_baselines_and_the_prints() -> None:
    rng = np.random.default_rng(7)
    ear, then, now = (u * rng.standard_normal(200_000) for u in (0.4, 0.3, 0.2))
    first, later = 7.0 + ear + then, 7.5 + ear + now
    longer = Quantity.from_draws(later - first, "mm")
    found = points_of(Rechecked("A", ("a", "b"), change(), longer, later, {}, first))
    by_name = {point.followed: point for point in found}
    assert list(by_name) == ["tilt", "entry", "exit", "channel"]
    assert by_name["tilt"] == Point("tilt", 5.0, 3.0, pytest.approx(np.sqrt(5.0)))
    assert by_name["entry"] == Point("entry", 0.6, 0.3, pytest.approx(0.2))
    assert by_name["exit"] == Point("exit", -0.3, 0.3, pytest.approx(0.1))
    # var(then) - cov(then, now) leaves the baseline's own 0.3, what the ear brings falls out.
    channel = by_name["channel"]
    assert channel.u == pytest.approx(np.hypot(0.3, 0.2), rel=0.01)
    assert channel.u_common == pytest.approx(0.3, rel=0.02)


def test_where_nothing_is_compared_only_the_channel_is_followed() -> None:
    rng = np.random.default_rng(8)
    first, later = (7.0 + 0.2 * rng.standard_normal(5_000) for _ in range(2))
    longer = Quantity.from_draws(later - first, "mm")
    refused = Rechecked("A", None, NotComparable("view", 8.0), longer, later, {}, first)
    assert [point.followed for point in points_of(refused)] == ["channel"]


def visits(*values: float) -> list[tuple[date, tuple[Point, ...]]]:
    return [
        (START + timedelta(days=30 * (i + 1)), (Point("tilt", value, 0.5, 0.3),))
        for i, value in enumerate(values)
    ]


def test_a_trend_takes_three_visits_and_the_last_of_a_day() -> None:
    (one,) = followups(START, visits(1.0))
    assert one.trend is None
    twice = [*visits(1.0, 9.0), *visits(1.0, 2.0)[1:]]
    (tilt,) = followups(START, twice)
    assert [seen.value for seen in tilt.seen] == [1.0, 2.0]
    assert tilt.trend is not None
    assert tilt.trend.said
    assert tilt.trend.per_month == pytest.approx(1.0, abs=0.05)
    assert tilt.seen[0].interval == pytest.approx((1.0 - 0.98, 1.0, 1.0 + 0.98), abs=0.001)
    assert tilt.seen[0].u == pytest.approx(0.4)


def test_a_day_that_is_the_baselines_is_no_visit() -> None:
    same = [(START, (Point("tilt", 1.0, 0.5, 0.0),))]
    assert followups(START, same) == ()
