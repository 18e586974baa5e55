"""The plan's days: spans, postponing, and trips."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from assess.talk.outcome import Outcome
from assess.talk.plan import (
    CHECK,
    DOWNSIZING,
    HEALING,
    LATER_CHECK,
    Clash,
    Trip,
    clashes,
    earliest_day,
    plan_from,
    still_swollen,
)
from assess.talk.sentences import PRACTICE
from assess.talk.spans import Days, Range, free, later

DAY = date(2026, 3, 2)
DATES = st.dates(date(2000, 1, 1), date(2080, 12, 31))


@st.composite
def spans(draw: st.DrawFn, near: date = DAY) -> Days:
    first = near + timedelta(days=draw(st.integers(-60, 500)))
    return Days(first, first + timedelta(days=draw(st.integers(0, 60))))


TRIPS = st.lists(spans().map(lambda days: Trip("away", days)), max_size=6)


@pytest.mark.practice("common practice, no source: the shorter post after 4 to 6 weeks")
def test_the_shorter_post_comes_after_four_to_six_weeks() -> None:
    days = plan_from(DAY).visit(DOWNSIZING).days
    assert days == Days(date(2026, 3, 30), date(2026, 4, 13))
    assert (days.first - DAY).days == 28
    assert (days.last - DAY).days == 42


def test_visits_follow_each_other_from_the_day_on() -> None:
    plan = plan_from(DAY)
    assert [visit.name for visit in plan.visits] == [CHECK, DOWNSIZING, LATER_CHECK]
    firsts = [plan.day, *(visit.days.first for visit in plan.visits)]
    assert firsts == sorted(firsts)


@given(DATES)
def test_healing_is_a_range_and_never_a_day(day: date) -> None:
    plan = plan_from(day)
    assert len(plan.healing) == len(HEALING)
    for span in plan.healing:
        assert span.last - span.first >= timedelta(days=14)
    assert plan.healed.first == min(span.first for span in plan.healing)
    assert plan.healed.last == day + relativedelta(months=12)


@pytest.mark.parametrize(("low", "high"), [(8, 8), (9, 8), (-1, 2)])
def test_a_range_that_is_a_day_is_a_bug(low: int, high: int) -> None:
    with pytest.raises(ValueError, match="low < high"):
        Range(low, high, "weeks", PRACTICE)


@given(DATES, st.integers(0, 40))
def test_months_as_another_library_counts_them(day: date, months: int) -> None:
    assert later(day, months, "months") == day + relativedelta(months=months)
    assert later(day, months, "weeks") == day + relativedelta(weeks=months)
    assert later(day, months, "days") == day + relativedelta(days=months)


def test_while_it_is_swollen_the_shorter_post_waits() -> None:
    plan = plan_from(DAY)
    put_off = still_swollen(plan, date(2026, 4, 8))
    assert put_off.visit(DOWNSIZING).days == Days(date(2026, 4, 15), date(2026, 4, 22))
    assert put_off.visit(DOWNSIZING).postponed
    assert put_off.visit(CHECK) == plan.visit(CHECK)
    assert put_off.healing == plan.healing
    with pytest.raises(ValueError, match="must not lie before the day"):
        still_swollen(plan, DAY - timedelta(days=1))


@given(st.lists(st.integers(0, 200), min_size=1, max_size=5))
def test_putting_off_never_brings_it_forward(looks: list[int]) -> None:
    plan = plan_from(DAY)
    for look in looks:
        before, seen_on = plan.visit(DOWNSIZING).days, DAY + timedelta(days=look)
        plan = still_swollen(plan, seen_on)
        after = plan.visit(DOWNSIZING).days
        assert after.first >= before.first
        assert after.last >= before.last
        assert after.first > seen_on


@given(spans(), st.lists(spans(), max_size=6))
def test_free_days_are_those_that_nobody_takes(wanted: Days, taken: list[Days]) -> None:
    def each(days: Days) -> set[date]:
        return {days.first + timedelta(days=i) for i in range((days.last - days.first).days + 1)}

    left = free(wanted, taken)
    assert set().union(*map(each, left)) == each(wanted).difference(*map(each, taken))
    assert list(left) == sorted(left)
    assert sum(len(each(piece)) for piece in left) == len(set().union(*map(each, left)))


def test_a_trip_in_the_first_weeks_waits_and_a_late_one_is_weighed() -> None:
    plan = plan_from(DAY)
    early = Trip("sea", Days(date(2026, 5, 4), date(2026, 5, 17)))
    late = Trip("lake", Days(date(2026, 8, 3), date(2026, 8, 14)))
    next_year = Trip("hills", Days(date(2027, 3, 10), date(2027, 3, 20)))
    before = Trip("town", Days(date(2026, 2, 1), date(2026, 2, 8)))
    assert clashes(plan, [early, late, next_year, before]) == (
        Clash(early, Outcome.WAIT),
        Clash(late, Outcome.PIERCER),
    )


def test_a_trip_over_a_visit_says_which_days_are_left() -> None:
    plan = plan_from(DAY)
    trip = Trip("town", Days(date(2026, 4, 3), date(2026, 4, 6)))
    other = Trip("fair", Days(date(2026, 4, 10), date(2026, 4, 20)))
    wait, visit = clashes(plan, [trip, other])[:2]
    assert wait.outcome is Outcome.WAIT
    assert visit.visit == DOWNSIZING
    assert visit.left == (
        Days(date(2026, 3, 30), date(2026, 4, 2)),
        Days(date(2026, 4, 7), date(2026, 4, 9)),
    )


def test_a_trip_over_all_of_a_visit_leaves_no_day() -> None:
    trip = Trip("long", Days(date(2026, 3, 25), date(2026, 4, 30)))
    found = [clash for clash in clashes(plan_from(DAY), [trip]) if clash.visit == DOWNSIZING]
    assert [clash.left for clash in found] == [()]


def test_the_edges_of_a_trip_count() -> None:
    """12 weeks after 2 March 2026 is 25 May 2026."""
    plan, end = plan_from(DAY), date(2026, 5, 25)
    on = Trip("on", Days(end, end + timedelta(days=9)))
    after = Trip("after", Days(end + timedelta(days=1), end + timedelta(days=9)))
    assert clashes(plan, [on])[0].outcome is Outcome.WAIT
    assert clashes(plan, [after])[0].outcome is Outcome.PIERCER


@given(TRIPS)
def test_from_the_earliest_day_on_no_trip_is_too_early(trips: list[Trip]) -> None:
    found = earliest_day(DAY, trips)
    assert found >= DAY
    assert not [c for c in clashes(plan_from(found), trips) if c.outcome is Outcome.WAIT]
    tried = DAY
    while tried < found:
        assert [c for c in clashes(plan_from(tried), trips) if c.outcome is Outcome.WAIT]
        tried += timedelta(days=1)


def test_a_span_that_ends_before_it_begins_is_a_bug() -> None:
    with pytest.raises(ValueError, match="must not lie before 'first'"):
        Days(DAY, DAY - timedelta(days=1))


def test_a_visit_that_is_none_is_a_bug() -> None:
    with pytest.raises(ValueError, match="must be a visit of the plan"):
        plan_from(DAY).visit("visit.party")
