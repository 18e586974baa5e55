"""The plan's days in a language's words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from assess.talk.decided import (
    OR,
    SPAN,
    TIME,
    TRIP_NO_DAY,
    TRIP_VISIT,
    TRIP_WAIT,
    TRIP_WEIGH,
    VISIT,
)
from assess.talk.outcome import Outcome
from assess.talk.plan import Clash, Plan, Trip, clashes
from assess.talk.spans import Days
from rimspan.languages import Language


def span(days: Days, words: Language) -> str:
    """Return a span of days, or the one day that it is."""
    first = words.day(days.first)
    if days.first == days.last:
        return first
    return words.say(SPAN.id, first=first, last=words.day(days.last))


def visit_lines(
    plan: Plan, trips: Sequence[Trip], times: Mapping[str, datetime], words: Language
) -> list[str]:
    """Return a line for each visit: the agreed time, or the days, or those that a trip leaves."""
    taken = {clash.visit: clash for clash in clashes(plan, trips) if clash.visit is not None}
    lines = []
    for visit in plan.visits:
        name = words.say(visit.name)
        at, clash = times.get(visit.name), taken.get(visit.name)
        if at is not None:
            day, clock = words.day(at.date()), words.clock(at.time())
            lines.append(words.say(TIME.id, name=name, date=day, time=clock))
        elif clash is not None:
            lines.append(_left(name, clash, words))
        else:
            first, last = words.day(visit.days.first), words.day(visit.days.last)
            lines.append(words.say(VISIT.id, name=name, first=first, last=last))
    return lines


def _left(name: str, clash: Clash, words: Language) -> str:
    if not clash.left:
        return words.say(TRIP_NO_DAY.id, visit=name)
    days = f" {words.say(OR.id)} ".join(span(piece, words) for piece in clash.left)
    return words.say(TRIP_VISIT.id, visit=name, days=days)


def trip_lines(plan: Plan, trips: Sequence[Trip], words: Language) -> list[str]:
    """Return what each trip means for healing."""
    lines = []
    for clash in clashes(plan, trips):
        if clash.visit is None:
            sentence = TRIP_WAIT if clash.outcome is Outcome.WAIT else TRIP_WEIGH
            first, last = words.day(clash.trip.days.first), words.day(clash.trip.days.last)
            lines.append(words.say(sentence.id, name=clash.trip.name, first=first, last=last))
    return lines
