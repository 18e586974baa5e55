"""The calendar file as an independent parser reads it, and over a change of the clocks."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import vobject

from assess.talk.plan import CHECK, DAY, DOWNSIZING, LATER_CHECK, plan_from, still_swollen
from assess.talk.sentences import LANGUAGES
from rimspan.languages import language
from rimspan.sheets.calendar_file import calendar_file

STAMP = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def made(day: date = date(2026, 3, 2), code: str = "en", **given: Any) -> bytes:
    return calendar_file(plan_from(day), language(code), uid="0f3a", stamp=STAMP, **given)


def events(file: bytes) -> dict[str, Any]:
    calendar = vobject.readOne(file.decode())
    return {event.uid.value.rsplit(".", 1)[0]: event for event in calendar.vevent_list}


def test_spans_of_days_end_after_their_last_day() -> None:
    """RFC 5545, 3.6.1: DTEND isn't part of the event."""
    found = events(made())
    assert list(found) == [DAY, CHECK, DOWNSIZING, LATER_CHECK]
    assert found[DAY].dtstart.value == date(2026, 3, 2)
    assert found[DAY].dtend.value == date(2026, 3, 3)
    assert found[DOWNSIZING].dtstart.value == date(2026, 3, 30)
    assert found[DOWNSIZING].dtend.value == date(2026, 4, 14)
    assert found[DOWNSIZING].transp.value == "TRANSPARENT"


@pytest.mark.memory(
    source="Directive 2000/84/EC (last Sundays of March and October); US Energy Policy Act of 2005 "
    "(second Sunday of March)"
)
@pytest.mark.parametrize(
    ("zone", "day", "before", "after", "hours"),
    [
        ("Europe/Berlin", (2026, 3, 2), (2026, 3, 18), (2026, 4, 2), (1, 2)),
        ("Europe/Berlin", (2026, 10, 1), (2026, 10, 20), (2026, 11, 3), (2, 1)),
        ("America/New_York", (2026, 2, 16), (2026, 3, 4), (2026, 3, 18), (-5, -4)),
        ("Asia/Tokyo", (2026, 3, 2), (2026, 3, 18), (2026, 4, 2), (9, 9)),
    ],
)
def test_half_past_two_stays_half_past_two_when_the_clocks_change(
    zone: str, day: tuple[int, ...], before: tuple[int, ...], after: tuple[int, ...], hours: Any
) -> None:
    """The other parser knows the zone only from the rules in the file."""
    local = ZoneInfo(zone)
    times = {
        CHECK: datetime(*before, 14, 30, tzinfo=local),  # type: ignore[misc]
        DOWNSIZING: datetime(*after, 14, 30, tzinfo=local),  # type: ignore[misc]
    }
    found = events(made(date(*day), times=times))
    for name, given, offset in zip((CHECK, DOWNSIZING), (before, after), hours, strict=True):
        begins = found[name].dtstart.value
        assert (begins.year, begins.month, begins.day) == given
        assert (begins.hour, begins.minute) == (14, 30)
        assert begins.utcoffset() == timedelta(hours=offset)
        assert found[name].dtend.value - begins == timedelta(minutes=30)
        assert not hasattr(found[name], "transp")


def test_the_file_carries_the_rules_of_its_zone() -> None:
    at = datetime(2026, 3, 18, 14, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    text = made(times={CHECK: at}).decode()
    assert text.count("BEGIN:VTIMEZONE") == 1
    assert "TZID:Europe/Berlin" in text
    assert "DTSTART;TZID=Europe/Berlin:20260318T143000" in text
    assert "BEGIN:VTIMEZONE" not in made().decode()


@pytest.mark.memory(source="RFC 5545, 3.1 (lines of 75 octets, CRLF), 3.6, 3.6.1, 3.7 (required)")
@pytest.mark.parametrize("code", LANGUAGES)
def test_the_file_keeps_the_form_of_rfc_5545(code: str) -> None:
    at = datetime(2026, 4, 2, 14, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    file = made(code=code, times={DOWNSIZING: at}, place="Straße 1, Beispielstadt; Hof " * 3)
    assert file.endswith(b"END:VCALENDAR\r\n")
    lines = file.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert b"\n" not in b"".join(lines)
    assert b"VERSION:2.0" in lines
    assert sum(line.startswith(b"PRODID:") for line in lines) == 1
    found = events(file)
    assert len({event.uid.value for event in found.values()}) == 4
    for event in found.values():
        assert event.dtstamp.value == STAMP
        assert event.location.value.startswith("Straße 1, Beispielstadt; Hof")
    assert all(event.summary.value for event in found.values())
    vobject.readOne(file.decode()).validate(raiseException=True)


def test_words_are_those_of_the_language() -> None:
    assert events(made(code="de"))[DOWNSIZING].summary.value == "Piercing-Studio: Kürzerer Stab"
    assert events(made())[DOWNSIZING].summary.value == "Piercing studio: Shorter post"


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_healing_is_promised(code: str) -> None:
    """The end of no range of healing is an event."""
    plan = plan_from(date(2026, 3, 2))
    begins = {event.dtstart.value for event in events(made(code=code)).values()}
    days = {visit.days.first for visit in plan.visits} | {plan.day}
    assert begins == days


def test_putting_off_renews_the_same_events() -> None:
    plan = plan_from(date(2026, 3, 2))
    later = still_swollen(plan, date(2026, 4, 8))
    words = language("en")
    first = events(calendar_file(plan, words, uid="0f3a", stamp=STAMP))
    second = events(calendar_file(later, words, uid="0f3a", stamp=STAMP, sequence=1))
    assert {e.uid.value for e in first.values()} == {e.uid.value for e in second.values()}
    assert second[DOWNSIZING].sequence.value == "1"
    assert second[DOWNSIZING].dtstart.value == date(2026, 4, 15)
    assert second[CHECK].dtstart.value == first[CHECK].dtstart.value


def test_a_time_that_the_clocks_leave_out_is_refused() -> None:
    """On 29 March 2026 it is three o'clock in Berlin right after two."""
    gone = datetime(2026, 3, 29, 2, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    with pytest.raises(ValueError, match="must be on the clock that day"):
        made(times={CHECK: gone})


@pytest.mark.parametrize(
    "at",
    [
        datetime(2026, 3, 18, 14, 30),
        datetime(2026, 3, 18, 14, 30, tzinfo=timezone(timedelta(hours=1))),
    ],
)
def test_a_time_without_a_named_zone_is_refused(at: datetime) -> None:
    with pytest.raises(ValueError, match="must have a named time zone"):
        made(times={CHECK: at})


def test_a_visit_that_is_none_is_refused() -> None:
    at = datetime(2026, 3, 18, 14, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    with pytest.raises(ValueError, match="must name visits"):
        made(times={"visit.party": at})


def test_a_plan_without_a_late_look_has_no_event_for_it() -> None:
    plan = plan_from(date(2026, 3, 2))
    short = replace(plan, visits=plan.visits[:2])
    found = events(calendar_file(short, language("en"), uid="1", stamp=STAMP))
    assert LATER_CHECK not in found
