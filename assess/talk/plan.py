"""From the day on: when to come, how long healing may take, and what the trips do to that.

Healing is always a range, never a promised day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from assess.talk.outcome import Outcome
from assess.talk.sentences import ASSUMED, PRACTICE, Basis, Sentence
from assess.talk.spans import Days, Range, free

DAY, CHECK, DOWNSIZING, LATER_CHECK = (
    "visit.day",
    "visit.check",
    "visit.downsizing",
    "visit.later",
)

VISITS: tuple[Sentence, ...] = (
    Sentence(DAY, "The piercing", "Everything else is counted from this day."),
    Sentence(
        CHECK,
        "First look",
        "Trouble with Pseudomonas mostly begins two to four weeks after: a look at its start.",
        Basis("published", "Brown et al., Epidemiol Infect 2025"),
    ),
    Sentence(
        DOWNSIZING,
        "Shorter post",
        "By then most of the swelling is gone, and a long post moves and catches.",
    ),
    Sentence(
        LATER_CHECK,
        "Look at how it heals",
        "Around three months some have healed and some are on their way.",
    ),
)

HEALING: tuple[Range, ...] = (
    Range(8, 12, "weeks", PRACTICE),
    Range(3, 6, "months", PRACTICE),
    Range(6, 8, "weeks", Basis("published", "Family Practice Notebook, “lobe or auricle”")),
    Range(4, 12, "months", Basis("memory", "Meltzer, American Family Physician, 2005")),
)
"""The trade's two ranges, then the published ones; they disagree, so all of them stand here."""

TENDER = HEALING[0]
"""A trip before the end of this range is better made first."""


@dataclass(frozen=True, slots=True)
class PlanRules:
    """What a studio can set; each range says how far its default is known."""

    visits: tuple[tuple[str, Range], ...] = (
        (CHECK, Range(2, 3, "weeks", ASSUMED)),
        (DOWNSIZING, Range(4, 6, "weeks", PRACTICE)),
        (LATER_CHECK, Range(12, 14, "weeks", ASSUMED)),
    )
    look_again: Range = field(default_factory=lambda: Range(1, 2, "weeks", ASSUMED))
    """When to look again where it is still swollen."""

    @property
    def downsizing(self) -> Range:
        """Return when the shorter post goes in."""
        return dict(self.visits)[DOWNSIZING]


@dataclass(frozen=True, slots=True)
class Visit:
    """When to come, as a span of days, and what for."""

    name: str
    days: Days
    postponed: bool = False


@dataclass(frozen=True, slots=True)
class Trip:
    """A planned trip, or a season of swimming: the client's own word for it, and its days."""

    name: str
    days: Days


@dataclass(frozen=True, slots=True)
class Clash:
    """A trip against the plan: where it leads, and what is left of a visit's days."""

    trip: Trip
    outcome: Outcome
    visit: str | None = None
    """The visit that it falls on; None where it falls on healing alone."""
    left: tuple[Days, ...] = ()
    """The days of that visit that are left."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The day, the visits after it, and every range in which it may heal."""

    day: date
    visits: tuple[Visit, ...]
    healing: tuple[Days, ...]
    rules: PlanRules

    @property
    def healed(self) -> Days:
        """Return from the earliest to the latest of all ranges."""
        return Days(min(d.first for d in self.healing), max(d.last for d in self.healing))

    def visit(self, name: str) -> Visit:
        """Return a visit by its name."""
        for visit in self.visits:
            if visit.name == name:
                return visit
        raise ValueError(f"'name' must be a visit of the plan (got {name!r})")


def plan_from(day: date, rules: PlanRules | None = None) -> Plan:
    """Return the plan that begins on a day."""
    set_by = rules or PlanRules()
    visits = tuple(Visit(name, span.after(day)) for name, span in set_by.visits)
    return Plan(day, visits, tuple(span.after(day) for span in HEALING), set_by)


def still_swollen(plan: Plan, seen_on: date) -> Plan:
    """Return the plan after a look that found it swollen: the shorter post waits.

    Its days never come earlier than they were, and every visit after it keeps its own.

    Raises
    ------
    ValueError
        If the look lies before the day of the piercing.
    """
    if seen_on < plan.day:
        raise ValueError(f"'seen_on' must not lie before the day (got {seen_on}, {plan.day})")
    again = plan.rules.look_again.after(seen_on)
    old = plan.visit(DOWNSIZING)
    days = Days(max(old.days.first, again.first), max(old.days.last, again.last))
    new = replace(old, days=days, postponed=True)
    return replace(plan, visits=tuple(new if v is old else v for v in plan.visits))


def clashes(plan: Plan, trips: Sequence[Trip]) -> tuple[Clash, ...]:
    """Return what the trips do to the plan, trip by trip.

    A trip that begins before the trade's first range of healing ends is better made first: wait.
    One that begins later, and before the last range ends, is for the piercer to weigh.  A trip
    that takes days of a visit says which are left.
    """
    return tuple(clash for trip in trips for clash in _clashes(plan, trip, trips))


def _clashes(plan: Plan, trip: Trip, trips: Sequence[Trip]) -> list[Clash]:
    tender = Days(plan.day, TENDER.after(plan.day).last)
    found = []
    if trip.days.meets(tender):
        found.append(Clash(trip, Outcome.WAIT))
    elif trip.days.meets(Days(plan.day, plan.healed.last)):
        found.append(Clash(trip, Outcome.PIERCER))
    away = [other.days for other in trips]
    met = [visit for visit in plan.visits if visit.days.meets(trip.days)]
    return found + [Clash(trip, Outcome.PIERCER, v.name, free(v.days, away)) for v in met]


def earliest_day(day: date, trips: Sequence[Trip]) -> date:
    """Return the first day from ``day`` on after which no trip falls into the tender weeks."""
    for trip in sorted(trips, key=lambda t: t.days):
        if trip.days.meets(Days(day, TENDER.after(day).last)):
            day = trip.days.last + timedelta(days=1)
    return day
