"""Who is due for a visit, who is overdue, who has fallen silent.

Days are the studio's own: a moment becomes a day by the studio's time zone, so the hour that a
clock change adds or takes never moves a visit, nor does midnight somewhere else.  Between two days
count calendar days, over a year's end as within one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from typing import Literal

from assess.talk.plan import Plan

State = Literal["not yet", "due", "overdue", "silent"]
SILENT_DAYS = 28
"""Overdue for longer, without a visit or a word since, is silent (assumption)."""
ORDER: tuple[State, ...] = ("silent", "overdue", "due", "not yet")


@dataclass(frozen=True, slots=True)
class Expected:
    """A visit that is expected: whose, what for, and in which span of days."""

    who: str
    name: str
    first: date
    last: date

    def __post_init__(self) -> None:
        if self.first > self.last:
            raise ValueError(f"'first' must not lie after 'last' (got {self.first}, {self.last})")


@dataclass(frozen=True, slots=True)
class Came:
    """Somebody was here: when (with a time zone), and for which visit, if told.

    With ``word_only`` they were heard of (a message, a call): no visit, but not silent either.
    """

    who: str
    at: datetime
    name: str | None = None
    word_only: bool = False

    def __post_init__(self) -> None:
        if self.at.tzinfo is None:
            raise ValueError("'at' must have a time zone")


@dataclass(frozen=True, slots=True)
class Due:
    """An expected visit as it stands today; ``days`` until it begins, or over its last day."""

    visit: Expected
    state: State
    days: int


def day_in(zone: tzinfo, moment: datetime) -> date:
    """Return the day of a moment at the studio.

    Raises
    ------
    ValueError
        If the moment has no time zone.
    """
    if moment.tzinfo is None:
        raise ValueError("'moment' must have a time zone")
    return moment.astimezone(zone).date()


def expected_from(who: str, plan: Plan) -> tuple[Expected, ...]:
    """Return the visits of a plan as they are expected of somebody."""
    return tuple(Expected(who, v.name, v.days.first, v.days.last) for v in plan.visits)


def due_list(
    expected: Sequence[Expected], came: Sequence[Came], now: datetime, zone: tzinfo
) -> tuple[Due, ...]:
    """Return all visits that are still open, the most pressing first.

    A visit is done when somebody came for it, or, where what for isn't told, came from its first
    day on.

    Parameters
    ----------
    expected : visits
    came : who was here or was heard of
    now : with a time zone
    zone : the studio's
    """
    today = day_in(zone, now)
    found = [
        _standing(visit, [c for c in came if c.who == visit.who], today, zone)
        for visit in expected
        if not any(_done(visit, c, zone) for c in came)
    ]
    return tuple(sorted(found, key=lambda d: (ORDER.index(d.state), -d.days, d.visit.last)))


def _done(visit: Expected, came: Came, zone: tzinfo) -> bool:
    if came.who != visit.who or came.word_only:
        return False
    if came.name is not None:
        return came.name == visit.name
    return day_in(zone, came.at) >= visit.first


def _standing(visit: Expected, came: Sequence[Came], today: date, zone: tzinfo) -> Due:
    if today < visit.first:
        return Due(visit, "not yet", (today - visit.first).days)
    if today <= visit.last:
        return Due(visit, "due", (today - visit.last).days)
    over = (today - visit.last).days
    heard = any(day_in(zone, c.at) > visit.last for c in came)
    return Due(visit, "silent" if over > SILENT_DAYS and not heard else "overdue", over)


MONTHS = (
    *("January", "February", "March", "April", "May", "June"),
    *("July", "August", "September", "October", "November", "December"),
)


def day_words(day: date) -> str:
    """Return for example ``3 January 2027``."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def reminder(due: Due, what: str) -> str:
    """Return a text to send oneself: who, what for, by when.  Nothing of anybody's health.

    Parameters
    ----------
    due : of the list
    what : the visit in words
    """
    visit = due.visit
    span = f"{day_words(visit.first)} to {day_words(visit.last)}"
    days = f"{abs(due.days)} day" + ("" if abs(due.days) == 1 else "s")
    if due.state == "not yet":
        return f"{visit.who}: {what}, {span}. Begins in {days}."
    if due.state == "due":
        left = "today is the last day" if due.days == 0 else f"{days} left"
        return f"{visit.who}: {what}, {span}. Due now, {left}."
    if due.state == "overdue":
        return f"{visit.who}: {what}, {span}. Overdue by {days}."
    return f"{visit.who}: {what}, {span}. Overdue by {days}, and nothing heard since."
