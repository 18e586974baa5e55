"""The talk as it is kept beside the marks: plain data, read with care, changed piece by piece.

A record may be older than the questions: an answer that isn't known any more counts as not given.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, get_args

from assess.talk.chair import CHAIR
from assess.talk.consent import AgeFacts
from assess.talk.decided import Decided
from assess.talk.outcome import Given, Question, Together, together
from assess.talk.plan import DAY, VISITS, Trip, earliest_day
from assess.talk.questions import QUESTIONS
from assess.talk.spans import Days

Record = dict[str, Any]

TRIP = "ask.trip"
"""The question whose answer is dated by the trips."""
AGES = (
    "identity_checked",
    "guardian_present",
    "guardian_identity_checked",
    "guardian_photo_consent",
)
"""What somebody saw with their own eyes, each a plain yes."""
WRITTEN = ("note", "ends", "material")
"""What the piercer writes for the client's sheet: the reason, the jewellery's ends and material."""


@dataclass(frozen=True, slots=True)
class Agreed:
    """A time that was agreed for a visit: what the clock of a place shows then."""

    at: datetime
    """Without a zone: half past two stays half past two."""
    zone: str
    """The place's name in the IANA database."""


@dataclass(frozen=True, slots=True)
class Talk:
    """What was asked, answered, seen and ticked."""

    given: Mapping[str, Given]
    facts: AgeFacts
    trips: tuple[Trip, ...] = ()
    chair: tuple[str, ...] = ()
    decided: Decided | None = None
    day: date | None = None
    """The day of the piercing, where one is planned."""
    times: Mapping[str, Agreed] = field(default_factory=dict)
    """Visit -> the time that was agreed."""
    written: Mapping[str, str] = field(default_factory=dict)

    @property
    def together(self) -> Together:
        """Return what the answers come to."""
        return together(QUESTIONS, self.given)


def talk_from(record: Mapping[str, Any], *, photos_kept: bool = True) -> Talk:
    """Return the talk that a record holds; what it doesn't hold was not asked and not seen."""
    age = record.get("age", {})
    seen = {name: age.get(name) is True for name in AGES}
    years = age.get("at_least_years")
    steps = {step.id for step in CHAIR}
    decided = record.get("decided")
    return Talk(
        {q.id: found for q in QUESTIONS if (found := _given(q, record)) is not None},
        AgeFacts(age_years=years, photos_kept=photos_kept, **seen),
        trips(record),
        tuple(name for name in record.get("chair", ()) if name in steps),
        decided if decided in get_args(Decided) else None,
        _day(record.get("day")),
        _times(record),
        {name: str(record.get("written", {}).get(name, "")) for name in WRITTEN},
    )


def _times(record: Mapping[str, Any]) -> dict[str, Agreed]:
    """Return the times that were agreed; none lies before the day of the piercing."""
    day, known = _day(record.get("day")), [visit.id for visit in VISITS]
    held = {name: held for name, held in record.get("times", {}).items() if name in known}
    found = {
        name: Agreed(datetime.fromisoformat(each["at"]), str(each["zone"]))
        for name, each in held.items()
    }
    return {n: each for n, each in found.items() if _stands(n, each.at.date(), day)}


def _stands(visit: str, on: date, day: date | None) -> bool:
    if day is None:
        return True
    return on == day if visit == DAY else on >= day


def trips(record: Mapping[str, Any]) -> tuple[Trip, ...]:
    """Return the trips of a record, the earliest first."""
    found = [
        Trip(str(each["name"]), Days(date.fromisoformat(each["first"]), _last(each)))
        for each in record.get("trips", ())
    ]
    return tuple(sorted(found, key=lambda trip: trip.days))


def _last(trip: Mapping[str, Any]) -> date:
    return date.fromisoformat(trip["last"])


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _given(question: Question, record: Mapping[str, Any]) -> Given | None:
    held = record.get("answers", {}).get(question.id)
    if held is None:
        return None
    known = {answer.id: answer for answer in question.answers}
    answers = tuple(name for name in held["answers"] if name in known)
    alone = any(known[name].alone for name in answers) or not question.several
    if not answers or len(answers) < len(held["answers"]) or (alone and len(answers) > 1):
        return None
    return Given(answers, _until(question, held, record))


def _until(question: Question, held: Mapping[str, Any], record: Mapping[str, Any]) -> date | None:
    """Return until when an answer holds; with a trip, until the day from which on none is near.

    That is counted from the day of the piercing, or where none is planned from the first trip on;
    trips that touch no tender week of it are over on the day after the last one.
    """
    planned = trips(record)
    if question.id != TRIP:
        return _day(held.get("until"))
    if not planned:
        return None
    wanted = _day(record.get("day")) or planned[0].days.first
    free = earliest_day(wanted, planned)
    return free if free > wanted else max(t.days.last for t in planned) + timedelta(days=1)


def with_answer(
    record: Mapping[str, Any], question: str, answers: Sequence[str], until: date | None = None
) -> Record:
    """Return the record with one question answered; no answer takes it back."""
    kept = {name: held for name, held in record.get("answers", {}).items() if name != question}
    if answers:
        dated = {} if until is None else {"until": until.isoformat()}
        kept[question] = {"answers": list(answers)} | dated
    return dict(record) | {"answers": kept}


def with_age(record: Mapping[str, Any], **seen: bool | int | None) -> Record:
    """Return the record with what was seen of age and consent."""
    return dict(record) | {"age": dict(record.get("age", {})) | seen}


def with_trips(record: Mapping[str, Any], planned: Iterable[Trip]) -> Record:
    """Return the record with these trips, and no others."""
    kept = [
        {"name": t.name, "first": t.days.first.isoformat(), "last": t.days.last.isoformat()}
        for t in sorted(planned, key=lambda trip: trip.days)
    ]
    return dict(record) | {"trips": kept}


def with_time(record: Mapping[str, Any], visit: str, at: datetime | None, zone: str = "") -> Record:
    """Return the record with a time agreed for a visit; None takes it back."""
    kept = {name: held for name, held in record.get("times", {}).items() if name != visit}
    if at is not None:
        kept[visit] = {"at": at.isoformat(timespec="minutes"), "zone": zone}
    return dict(record) | {"times": kept}


def with_written(record: Mapping[str, Any], name: str, text: str) -> Record:
    """Return the record with what the piercer wrote for the sheet; an empty text takes it back."""
    kept = {n: held for n, held in record.get("written", {}).items() if n != name}
    return dict(record) | {"written": kept | ({name: text.strip()} if text.strip() else {})}


def with_step(record: Mapping[str, Any], step: str, done: bool) -> Record:
    """Return the record with a step in the chair ticked, or not."""
    ticked = [name for name in record.get("chair", ()) if name != step]
    return dict(record) | {"chair": [*ticked, step] if done else ticked}
