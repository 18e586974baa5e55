"""What the client takes home of a saved assessment: now, and again as it was then."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
import vobject

from assess.talk.outcome import Outcome
from assess.talk.plan import Trip, clashes, earliest_day, plan_from
from assess.talk.record import talk_from, with_answer, with_time, with_trips, with_written
from assess.talk.spans import Days
from rimspan.client_papers import Chosen, calendar_of, chosen_then, client_sheet_of
from rimspan.clientfile import ClientFile, Person, Revision, Role, import_client
from rimspan.languages import language
from rimspan.studio_clock import set_zone
from rimspan.studio_words import reword
from tests.rimspan.clientfile.made import new

GOLDEN = Path(__file__).resolve().parents[1] / "golden"
SIGNED = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
"""When the invented assessments were saved."""
Make = Callable[[dict[str, Any]], Revision]


def words_of(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


@pytest.fixture
def file(tmp_path: Path) -> Iterator[ClientFile]:
    with ClientFile.open(tmp_path / "store") as opened:
        opened.clock = lambda: SIGNED
        yield opened


@pytest.fixture
def manager(file: ClientFile) -> Person:
    return file.people.add("Max Invented", Role.MANAGER, "invented password")


@pytest.fixture
def make_revision(file: ClientFile, make_result: Callable[..., Any]) -> Make:
    """Return ``make(talk)``: an assessment that was saved with a talk."""

    def made(talk: dict[str, Any]) -> Revision:
        client = file.create_client("Demo Client (invented)").id
        result = make_result().model_dump(mode="json")
        saved = replace(new(client), result=result, photos={}, talk=talk)
        return file.save_revision(saved, f"token {client}")

    return made


def events(calendar: bytes) -> dict[str, Any]:
    found = vobject.readOne(calendar.decode())
    return {event.uid.value.rsplit(".", 1)[0]: event for event in found.vevent_list}


# A wait until a trip's end


@pytest.mark.parametrize(
    ("trips", "until"),
    [
        ([(20, 34)], 35),
        ([(20, 34), (60, 70)], 71),  # the second touches the weeks after the first
        ([(20, 34), (200, 210)], 35),  # the second doesn't
        ([(100, 110)], 111),  # near no tender week of the day: over when it is over
    ],
)
@pytest.mark.parametrize("planned", [True, False])
def test_a_wait_ends_where_the_plan_has_no_trip_in_its_first_weeks(
    make_revision: Make, file: ClientFile, trips: list[tuple[int, int]], until: int, planned: bool
) -> None:
    """From the trip to the wait, to the plan's days, to the sheet, and into the calendar."""
    today = SIGNED.date()
    day = lambda n: today + timedelta(days=n)  # noqa: E731
    own = [Trip("ask.trip.trip", Days(day(first), day(last))) for first, last in trips]
    record = with_answer(with_trips({"day": today.isoformat()} if planned else {}, own), *TRIP)
    waits = talk_from(record).together
    assert (waits.outcome, waits.until) == (Outcome.WAIT, day(until))
    assert waits.until is not None
    free = plan_from(waits.until)
    assert not [c for c in clashes(free, own) if c.outcome is Outcome.WAIT]
    assert earliest_day(waits.until, own) == waits.until
    said = language("en").day(waits.until)
    revision = make_revision(record | {"decided": "waits"})
    sheet = client_sheet_of(file, revision, chosen_then(revision, "waits", "en", "a4"), None)
    assert f"We wait until {said}." in words_of(sheet)
    moved = calendar_of(file, "c", "left", Chosen("goes_ahead"), waits.until, SIGNED)
    assert events(moved)["visit.check"].dtstart.value == waits.until + timedelta(weeks=2)


TRIP: tuple[str, list[str]] = ("ask.trip", ["trip"])


# Again, as it was


@pytest.mark.parametrize(
    ("code", "paper", "words"),
    [
        ("en", "a4", ("We go ahead.", "First look: 18 March 2026, 14:30.", "Ends: flat discs.")),
        ("de", "us-letter", ("Natriumchlorid", "18. März 2026, 14:30", "Erster Blick")),
    ],
)
def test_a_signed_sheet_is_made_again_from_what_was_saved(
    file: ClientFile, make_revision: Make, code: str, paper: Any, words: tuple[str, ...]
) -> None:
    talk: dict[str, Any] = {"decided": "goes_ahead", "day": "2026-03-04"}
    talk = with_time(talk, "visit.check", datetime(2026, 3, 18, 14, 30), "Europe/Berlin")
    for name, text in (
        ("ends", "flat discs"),
        ("material", "titanium, ASTM F136"),
        ("note", "Moved up by a hair."),
    ):
        talk = with_written(talk, name, text)
    revision = make_revision(talk)
    file.clock = lambda: SIGNED + timedelta(days=400)
    chosen = chosen_then(revision, "goes_ahead", code, paper)
    said = words_of(client_sheet_of(file, revision, chosen, None))
    for each in (*words, "flat discs", "ASTM F136", "Moved up by a hair."):
        assert each in said, each
    calendar = calendar_of(file, revision.client_id, "left", chosen, date(2026, 3, 4), SIGNED)
    begins = events(calendar)["visit.check"].dtstart.value
    assert (begins.hour, begins.utcoffset()) == (14, timedelta(hours=1))


def test_the_studio_s_words_are_those_of_the_day_it_was_signed(
    file: ClientFile, manager: Person, make_revision: Make
) -> None:
    file.clock = lambda: SIGNED - timedelta(days=1)
    reword(file, manager, "en", "care.pets", "Words of before.")
    file.clock = lambda: SIGNED
    revision = make_revision({"decided": "goes_ahead"})
    file.clock = lambda: SIGNED + timedelta(days=1)
    reword(file, manager, "en", "care.pets", "Words of after.")
    then = chosen_then(revision, "goes_ahead", "en", "a4")
    now = replace(then, words_of=None)
    assert "Words of before." in words_of(client_sheet_of(file, revision, then, None))
    assert "Words of after." in words_of(client_sheet_of(file, revision, now, None))


# An evening in a studio far from Greenwich


@pytest.mark.parametrize(
    ("zone", "at", "signed", "first_look"),
    [
        ("America/Los_Angeles", (2026, 3, 3, 2, 30), date(2026, 3, 2), "16 March 2026"),
        ("Pacific/Auckland", (2026, 3, 2, 20, 0), date(2026, 3, 3), "17 March 2026"),
    ],
)
@pytest.mark.memory(source="tz database: 8 hours behind UTC, and 13 ahead, early in March")
def test_a_sheet_is_of_the_studio_s_own_day(
    file: ClientFile,
    manager: Person,
    make_revision: Make,
    zone: str,
    at: tuple[int, int, int, int, int],
    signed: date,
    first_look: str,
) -> None:
    """18:30 on the second, 09:00 on the third: two weeks on the day of the client's calendar."""
    set_zone(file, manager, zone)
    file.clock = lambda: datetime(*at, tzinfo=UTC)
    revision = make_revision({"decided": "goes_ahead"})
    chosen = chosen_then(revision, "goes_ahead", "en", "a4")
    said = words_of(client_sheet_of(file, revision, chosen, None))
    assert f"{signed.day} March 2026" in said
    assert first_look in said
    assert revision.created_at.date() != signed


# Times over a change of the clocks


@pytest.mark.memory(source="Directive 2000/84/EC: clocks go forward on the last Sunday of March")
def test_agreed_times_are_events_with_their_zone_over_a_change_of_the_clocks(
    file: ClientFile,
) -> None:
    """28 March 2027 is that Sunday; the other parser knows the zone only from the file.

    It goes on with the rules that it saw first for a name: so no other test here has this zone.
    """
    record = with_time({}, "visit.check", datetime(2027, 3, 26, 10, 0), "Europe/Vienna")
    record = with_time(record, "visit.downsizing", datetime(2027, 4, 9, 10, 0), "Europe/Vienna")
    chosen = Chosen("goes_ahead", "de", times=talk_from(record).times)
    made = calendar_of(file, "c", "left", chosen, date(2027, 3, 10), SIGNED)
    assert made.count(b"BEGIN:VTIMEZONE") == 1
    assert b"DTSTART;TZID=Europe/Vienna:20270326T100000" in made
    found = events(made)
    before, after = (found[f"visit.{name}"].dtstart.value for name in ("check", "downsizing"))
    assert [at.utcoffset() for at in (before, after)] == [timedelta(hours=1), timedelta(hours=2)]
    assert after.astimezone(UTC) - before.astimezone(UTC) == timedelta(days=14, hours=-1)
    assert (before.hour, after.hour) == (10, 10)
    assert found["visit.later"].dtstart.value == date(2027, 6, 2)  # no time agreed: its days


# From before there were talks


def test_an_export_from_before_there_were_talks_comes_in_whole(
    file: ClientFile, tmp_path: Path
) -> None:
    held = [
        json.loads(path.read_text("utf-8"))
        for path in sorted((GOLDEN / "client-1" / "revisions").glob("*.json"))
    ]
    assert held
    assert not [each for each in held if "talk" in each["saved"]]
    client = import_client(file, GOLDEN / "client-1")
    revisions = file.revisions(client.id)
    assert len(revisions) == len(held)
    for revision in revisions:
        talk = talk_from(revision.saved.talk)
        assert (talk.decided, dict(talk.given), talk.trips) == (None, {}, ())
        assert dict(talk.times) == {}
        assert set(talk.written.values()) == {""}
    assert file.verify() == []
