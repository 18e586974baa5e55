"""What the client takes home: the sheet of a saved assessment, and the visits for a calendar."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from hashlib import sha256

from assess.ends import End
from assess.insertion import NotHere
from assess.result import PlacementOut, PostOut, Result
from assess.talk.daily_life import DAILY_LIFE
from assess.talk.decided import END, Decided
from assess.talk.outcome import Given, together
from assess.talk.plan import Plan, Trip, plan_from
from assess.talk.questions import QUESTIONS
from assess.talk.record import Agreed, Talk, talk_from
from assess.talk.rewording import standing
from assess.visit_record import NextCheck
from rimspan.clientfile import ClientFile, Revision
from rimspan.insertions import sittings
from rimspan.languages import Language, language
from rimspan.not_here import NOT_HERE, not_here_of, wish_of
from rimspan.sheets.calendar_file import calendar_file, spans_file
from rimspan.sheets.client_sheet import ClientSheet, Jewellery, client_sheet_pdf, fits
from rimspan.sheets.compiling import PAPERS, Paper
from rimspan.studio import age_rules
from rimspan.studio_clock import day_of, moments
from rimspan.studio_words import own_words, spoken


@dataclass(frozen=True, slots=True)
class Chosen:
    """What stands on the sheet beside what was measured and answered."""

    decided: Decided
    code: str = "en"
    paper: Paper = "a4"
    note: str = ""
    ends: str = ""
    material: str = ""
    day: date | None = None
    """The day of the piercing; by default the day of the assessment."""
    trips: tuple[Trip, ...] = ()
    times: Mapping[str, Agreed] = field(default_factory=dict)
    words_of: datetime | None = None
    """The moment whose words of the studio's are taken; by default those of now."""


def chosen_then(revision: Revision, decided: Decided, code: str, paper: Paper) -> Chosen:
    """Return the sheet of a saved assessment as it was then: words, days, trips and times."""
    talk = talk_from(revision.saved.talk)
    return Chosen(
        decided,
        code,
        paper,
        note=talk.written["note"],
        ends=talk.written["ends"],
        material=talk.written["material"],
        day=talk.day,
        trips=talk.trips,
        times=talk.times,
        words_of=revision.created_at,
    )


def full_sheet_fits(file: ClientFile, code: str, changes: Mapping[str, str]) -> bool:
    """Return whether a sheet with as much on it as is usual fits two pages in a studio's words.

    Words that are refused for other reasons don't count here.
    """
    own = own_words(file, code) | dict(changes)
    words = language(code, standing(own, code))
    most = {question.id: question.answers[-1].id for question in DAILY_LIFE}
    sheet = ClientSheet(
        "goes_ahead",
        "left",
        "X" * 40,
        date(2026, 9, 30),
        client="X" * 40,
        guardian=True,
        answers=together(QUESTIONS, {name: Given((answer,)) for name, answer in most.items()}),
        note="x" * 60,
        jewellery=Jewellery(1.2, 10.31875, "x" * 40, "x" * 40),
        plan=plan_from(date(2026, 9, 30)),
    )
    return all(fits(sheet, words, paper) for paper in PAPERS)


def named(trips: Iterable[Trip], words: Language) -> tuple[Trip, ...]:
    """Return trips whose names are those of texts, under the words of a language."""
    return tuple(replace(trip, name=words.texts.get(trip.name, trip.name)) for trip in trips)


def client_sheet_of(
    file: ClientFile, revision: Revision, chosen: Chosen, picture_png: bytes | None
) -> bytes:
    """Return the client's sheet of a saved, so confirmed, assessment as PDF.

    Raises
    ------
    TooLongError
        If the words take more than two pages.
    """
    talk = talk_from(revision.saved.talk, photos_kept=bool(revision.saved.photos))
    result = Result.model_validate(revision.result)
    placements = result.placements
    alone = placements[0] if len(placements) == 1 else None
    words = spoken(file, chosen.code, chosen.words_of)
    sheet = ClientSheet(
        decided=chosen.decided,
        side=revision.side,
        piercer=revision.decided_by,
        day=day_of(file, revision.created_at),
        client=file.client(revision.client_id).name,
        guardian=_has_guardian(file, talk),
        until=talk.together.until,
        placement=alone,
        answers=talk.together,
        note=chosen.note.strip(),
        jewellery=_jewellery(alone, chosen),
        went_in=_went_in(file, revision, words),
        not_here=_not_here(file, revision),
        wish=wish_of(file, revision.client_id),
        posts=result.plan,
        pierced=bool(revision.pierced_by),
        plan=_plan(file, revision, chosen),
        trips=named(chosen.trips, words),
        times=moments(chosen.times),
    )
    return client_sheet_pdf(
        sheet, code=chosen.code, paper=chosen.paper, changes=words.own, picture_png=picture_png
    )


def _has_guardian(file: ClientFile, talk: Talk) -> bool:
    years = talk.facts.age_years
    return years is not None and years < age_rules(file).adult_from_years


def _jewellery(placement: PlacementOut | None, chosen: Chosen) -> Jewellery | None:
    """Return what is in or planned, where the piercer named ends and material."""
    ends, material = chosen.ends.strip(), chosen.material.strip()
    if placement is None or not ends or not material:
        return None
    post = placement.posts.initial if placement.posts is not None else None
    if not isinstance(post, PostOut):
        return None
    return Jewellery(post.gauge_mm, post.length_mm, ends, material)


def _went_in(file: ClientFile, revision: Revision, words: Language) -> dict[str, Jewellery]:
    """Return what really went in by what is recorded for this assessment."""
    found = {}
    for sitting in sittings(file, revision.client_id):
        if sitting.revision == revision.number:
            for put in sitting.insertion.put_in:
                item = sitting.items[put.stock_key]
                ends = "; ".join(_end(end, words) for end in item.ends)
                material = f"{item.material}, {item.standard}"
                found[put.label] = Jewellery(put.gauge_mm, put.length_mm, ends, material)
    return dict(sorted(found.items()))


def _end(end: End, words: Language) -> str:
    return words.say(
        END.id, shape=words.say(f"label.{end.shape}"), width=words.number(end.width_mm)
    )


def _not_here(file: ClientFile, revision: Revision) -> NotHere | None:
    """Return the newest record that this place isn't the one, of this assessment."""
    for record in file.records(NOT_HERE, revision.client_id):
        kept = not_here_of(record)
        if kept.revision == str(revision.number):
            return kept
    return None


def _plan(file: ClientFile, revision: Revision, chosen: Chosen) -> Plan | None:
    """Return the plan's days; none where it doesn't go ahead, so that no day is promised."""
    if chosen.decided != "goes_ahead":
        return None
    return plan_from(chosen.day or day_of(file, revision.created_at))


def calendar_of(
    file: ClientFile, client: str, side: str, chosen: Chosen, day: date, stamp: datetime
) -> bytes:
    """Return the visits after a day as a calendar file; made again, it renews the same events."""
    uid = sha256(f"{client} {side}".encode()).hexdigest()[:24]
    minutes = int(stamp.timestamp() // 60)  # counts up, and stays a small whole number
    return calendar_file(
        plan_from(day),
        spoken(file, chosen.code, chosen.words_of),
        uid=uid,
        stamp=stamp,
        times=moments(chosen.times),
        sequence=minutes,
    )


def check_calendar(of: str, check: NextCheck, words: Language, stamp: datetime) -> bytes:
    """Return the next check as a calendar file; made again, it renews the same event.

    Parameters
    ----------
    of : what tells the piercing from all others; nothing of it can be read in the file
    """
    uid = sha256(of.encode()).hexdigest()[:24]
    minutes = int(stamp.timestamp() // 60)
    spans = {check.name: check.days}
    return spans_file(spans, words, uid=uid, stamp=stamp, sequence=minutes)
