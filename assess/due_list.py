"""Who is due for a look: from days alone, so that no change of the clocks moves anybody.

Due is who has come to the first day on which they are expected, overdue whose last day is past,
and silent whose last day is long past: nobody knows how they are.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from typing import Generic, Literal, TypeVar

from assess.talk.plan import plan_from
from assess.visit_record import NextCheck

State = Literal["overdue", "due", "silent", "later"]
STATES: tuple[State, ...] = ("overdue", "due", "silent", "later")
"""In the order in which a studio looks at them."""

SILENT_AFTER_DAYS = 28
"""Days past the last one after which somebody is silent (assumption: no source)."""

Who = TypeVar("Who")


@dataclass(frozen=True, slots=True)
class Expected(Generic[Who]):
    """Somebody who is expected, and for which check."""

    who: Who
    check: NextCheck

    def state(self, today: date, silent_after_days: int = SILENT_AFTER_DAYS) -> State:
        """Return how they stand on a day."""
        days = self.check.days
        if today < days.first:
            return "later"
        if today <= days.last:
            return "due"
        return "silent" if today > days.last + timedelta(days=silent_after_days) else "overdue"


def first_check(pierced_on: date) -> NextCheck:
    """Return the first look after the piercing."""
    visit = plan_from(pierced_on).visits[0]
    return NextCheck(visit.name, visit.days)


def today_at(moment: datetime, zone: tzinfo | None = None) -> date:
    """Return which day it is at a moment in a studio's own zone; this machine's by default.

    Parameters
    ----------
    moment : with its zone
    """
    if moment.tzinfo is None:
        raise ValueError("'moment' must have a time zone (got none)")
    return moment.astimezone(zone).date()


def in_order(
    expected: Iterable[Expected[Who]], today: date
) -> dict[State, tuple[Expected[Who], ...]]:
    """Return everybody by how they stand, each time who is expected first before the others."""
    found = sorted(expected, key=lambda each: each.check.days)
    return {state: tuple(each for each in found if each.state(today) == state) for state in STATES}
