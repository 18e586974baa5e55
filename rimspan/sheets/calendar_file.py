"""The visits as a calendar file (RFC 5545), with the time zone's own rules in it.

Nothing of the client stands in it, neither name nor health: it goes to a phone.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from assess.talk.plan import DAY, Plan
from assess.talk.spans import Days
from rimspan import __version__
from rimspan.languages import Language

LASTS = timedelta(minutes=30)


def calendar_file(
    plan: Plan,
    words: Language,
    *,
    uid: str,
    stamp: datetime,
    times: Mapping[str, datetime] | None = None,
    place: str = "",
    sequence: int = 0,
) -> bytes:
    """Return the calendar file of a plan.

    A visit whose time was agreed is an event at that local time; one without is its span of
    days, which takes no time.  Healing is no event: nobody can promise its day.

    Parameters
    ----------
    uid : str
        What tells this plan's events from all others; the same again renews them.
    stamp : datetime
        When the file was made, with its zone.
    times : dict of str to datetime, optional
        Visit (or ``visit.day``) -> when, in a zone of the IANA database.
    sequence : int
        Counts up with each change, so that a calendar takes the newer.

    Raises
    ------
    ValueError
        If a time has no named zone, or the clocks leave it out that day.
    """
    spans = {DAY: Days(plan.day, plan.day)} | {visit.name: visit.days for visit in plan.visits}
    return spans_file(
        spans,
        words,
        uid=uid,
        stamp=stamp,
        times=times,
        place=place,
        sequence=sequence,
        until=plan.healed.last,
    )


def spans_file(
    spans: Mapping[str, Days],
    words: Language,
    *,
    uid: str,
    stamp: datetime,
    times: Mapping[str, datetime] | None = None,
    place: str = "",
    sequence: int = 0,
    until: date | None = None,
) -> bytes:
    """Return the calendar file of visits by their names; see :func:`calendar_file`.

    Parameters
    ----------
    until : date, optional
        Until when the rules of time zones are told; the last day by default.
    """
    agreed = dict(times or {})
    if set(agreed) - set(spans):
        raise ValueError(f"'times' must name visits (got {sorted(set(agreed) - set(spans))})")
    calendar = Calendar()
    calendar.add("prodid", f"-//Rimspan//Rimspan {__version__}//{words.code.upper()}")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for name, days in spans.items():
        event = Event()
        event.add("uid", f"{name}.{uid}@rimspan")
        event.add("dtstamp", stamp.astimezone(UTC))
        event.add("sequence", sequence)
        event.add("summary", words.say("label.appointment", name=words.say(name)))
        event.add("description", words.say("label.about"))
        if place:
            event.add("location", place)
        _when(event, days, agreed.get(name))
        calendar.add_component(event)
    # The years round the plan are enough; all since 1970 would be most of the file.
    year = timedelta(days=366)
    begins = min(days.first for days in spans.values())
    ends = max([days.last for days in spans.values()] + ([until] if until else []))
    calendar.add_missing_timezones(begins - year, ends + year)
    return bytes(calendar.to_ical())


def _when(event: Any, days: Days, at: datetime | None) -> None:  # noqa: ANN401  (a component)
    if at is None:
        # A span of days ends on the day after its last: DTEND is not part of the event.
        _add(event, days.first, days.last + timedelta(days=1))
        event.add("transp", "TRANSPARENT")
        return
    zone = at.tzinfo
    if not isinstance(zone, ZoneInfo):
        raise ValueError(f"'times' must have a named time zone (got {at.isoformat()})")
    if at.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != at.replace(tzinfo=None):
        raise ValueError(f"'times' must be on the clock that day (got {at.isoformat()})")
    _add(event, at, (at.astimezone(UTC) + LASTS).astimezone(zone))


def _add(event: Any, begins: date, ends: date) -> None:  # noqa: ANN401  (a component)
    event.add("dtstart", begins)
    event.add("dtend", ends)
