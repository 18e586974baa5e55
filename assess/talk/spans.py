"""Days and spans of days: from a first to a last, both counted in."""

from __future__ import annotations

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from assess.talk.sentences import Basis

Unit = Literal["days", "weeks", "months"]


@dataclass(frozen=True, slots=True)
class Range:
    """From ``low`` to ``high`` of a unit after some day; never one single day by itself."""

    low: int
    high: int
    unit: Unit
    basis: Basis

    def __post_init__(self) -> None:
        if not 0 <= self.low < self.high:
            raise ValueError(f"a range must have 0 <= low < high (got {self.low}, {self.high})")

    def after(self, day: date) -> Days:
        """Return the days that the range comes to, counted from a day."""
        return Days(later(day, self.low, self.unit), later(day, self.high, self.unit))


@dataclass(frozen=True, slots=True, order=True)
class Days:
    """From a first day to a last, both counted in."""

    first: date
    last: date

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"'last' must not lie before 'first' (got {self.first}, {self.last})")

    def holds(self, day: date) -> bool:
        """Return whether a day is one of them."""
        return self.first <= day <= self.last

    def meets(self, other: Days) -> bool:
        """Return whether a day lies in both."""
        return self.first <= other.last and other.first <= self.last


def later(day: date, count: int, unit: Unit) -> date:
    """Return the day that many days, weeks or months later.

    A month later is the same day of the month, or its last day where there is none such.
    """
    if unit != "months":
        return day + timedelta(days=count * (7 if unit == "weeks" else 1))
    months = day.month - 1 + count
    year, month = day.year + months // 12, months % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def each_day(days: Days) -> list[date]:
    """Return every day of a span, in order."""
    return [days.first + timedelta(days=n) for n in range((days.last - days.first).days + 1)]


def free(wanted: Days, taken: Iterable[Days]) -> tuple[Days, ...]:
    """Return what is left of some days when others are taken, in order."""
    left = [wanted]
    for away in taken:
        left = [piece for days in left for piece in _without(days, away)]
    return tuple(sorted(left))


def _without(days: Days, away: Days) -> list[Days]:
    if not days.meets(away):
        return [days]
    one = timedelta(days=1)
    before = [Days(days.first, away.first - one)] if days.first < away.first else []
    return before + ([Days(away.last + one, days.last)] if away.last < days.last else [])
