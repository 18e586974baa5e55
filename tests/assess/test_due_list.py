"""Who is due: by days, over changes of the clocks and the end of a year."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from assess.due_list import SILENT_AFTER_DAYS, STATES, Expected, first_check, in_order, today_at
from assess.talk.plan import CHECK
from assess.talk.spans import Days
from assess.visit_record import NextCheck
from assess.visit_words import how_long_words

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")


def test_each_day_has_its_state() -> None:
    check = NextCheck(CHECK, Days(date(2031, 12, 29), date(2032, 1, 5)))
    each = Expected("who", check)
    days = {
        date(2031, 12, 28): "later",
        date(2031, 12, 29): "due",
        date(2031, 12, 31): "due",
        date(2032, 1, 1): "due",
        date(2032, 1, 5): "due",
        date(2032, 1, 6): "overdue",
        date(2032, 2, 2): "overdue",
        date(2032, 2, 3): "silent",
    }
    assert {day: each.state(day) for day in days} == days
    assert (date(2032, 2, 2) - date(2032, 1, 5)).days == SILENT_AFTER_DAYS


def test_it_is_said_how_many_days_it_is_over_the_years_end() -> None:
    """Counted on a calendar: December has 31 days."""
    days = Days(date(2031, 12, 30), date(2032, 1, 2))
    said = {
        date(2031, 12, 20): "in 10 days",
        date(2031, 12, 29): "in 1 day",
        date(2031, 12, 30): "3 days left",
        date(2032, 1, 1): "1 day left",
        date(2032, 1, 2): "the last day",
        date(2032, 1, 3): "1 day over",
        date(2032, 2, 2): "31 days over",
    }
    assert {day: how_long_words(days, day) for day in said} == said
    alone = Days(date(2032, 1, 1), date(2032, 1, 1))
    assert how_long_words(alone, alone.first) == "the last day"


def test_a_piercing_in_december_is_due_in_the_next_year() -> None:
    """2 to 3 weeks after 18 December: 1 to 8 January; 29 February counts in a leap year."""
    assert first_check(date(2031, 12, 18)).days == Days(date(2032, 1, 1), date(2032, 1, 8))
    assert first_check(date(2032, 2, 15)).days == Days(date(2032, 2, 29), date(2032, 3, 7))


@pytest.mark.memory(
    source="Directive 2000/84/EC (last Sundays of March and October, 01:00 UTC); US Energy Policy "
    "Act of 2005 (second Sunday of March)"
)
@pytest.mark.parametrize(
    ("zone", "sunday", "hours"),
    [
        (BERLIN, date(2026, 3, 29), 23),
        (BERLIN, date(2026, 10, 25), 25),
        (NEW_YORK, date(2026, 3, 8), 23),
    ],
)
def test_a_change_of_the_clocks_moves_nobody_by_a_day(
    zone: ZoneInfo, sunday: date, hours: int
) -> None:
    """The day has 23 or 25 hours; every one of them is that day, and no other."""
    midnight = datetime(sunday.year, sunday.month, sunday.day, tzinfo=zone).astimezone(UTC)
    counted = [today_at(midnight + timedelta(hours=h), zone) for h in range(-1, hours + 1)]
    one = timedelta(days=1)
    assert counted == [sunday - one, *[sunday] * hours, sunday + one]
    each = Expected("who", NextCheck(CHECK, Days(sunday, sunday)))
    assert [each.state(day) for day in counted] == ["later", *["due"] * hours, "overdue"]


def test_the_day_is_the_studio_s_own_at_the_turn_of_the_year() -> None:
    moment = datetime(2031, 12, 31, 23, 30, tzinfo=UTC)
    assert today_at(moment, BERLIN) == date(2032, 1, 1)
    assert today_at(moment, NEW_YORK) == date(2031, 12, 31)
    with pytest.raises(ValueError, match="time zone"):
        today_at(moment.replace(tzinfo=None), BERLIN)


def test_who_is_expected_first_stands_first() -> None:
    today = date(2032, 1, 1)
    days = [Days(today + timedelta(days=n), today + timedelta(days=n + 3)) for n in (9, 1, -9, -2)]
    found = in_order([Expected(n, NextCheck(CHECK, d)) for n, d in enumerate(days)], today)
    assert tuple(found) == STATES
    order = {state: [each.who for each in those] for state, those in found.items()}
    assert order == {"overdue": [2], "due": [3], "silent": [], "later": [1, 0]}
