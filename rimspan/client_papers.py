"""What the client takes home: the sheet of a saved assessment, and the visits for a calendar."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import sha256

from assess.result import PlacementOut, PostOut, Result
from assess.talk.decided import Decided
from assess.talk.plan import Plan, Trip, plan_from
from assess.talk.record import Talk, talk_from
from assess.visit_record import NextCheck
from rimspan.clientfile import ClientFile, Revision
from rimspan.languages import Language, language
from rimspan.sheets.calendar_file import calendar_file, spans_file
from rimspan.sheets.client_sheet import ClientSheet, Jewellery, client_sheet_pdf
from rimspan.sheets.compiling import Paper
from rimspan.studio import age_rules


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is chosen for the sheet beside what was saved."""

    decided: Decided
    code: str = "en"
    paper: Paper = "a4"
    note: str = ""
    ends: str = ""
    material: str = ""
    day: date | None = None
    """The day of the piercing; by default the day of the assessment."""
    trips: tuple[Trip, ...] = ()


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
    placements = Result.model_validate(revision.result).placements
    alone = placements[0] if len(placements) == 1 else None
    sheet = ClientSheet(
        decided=chosen.decided,
        side=revision.side,
        piercer=revision.decided_by,
        day=revision.created_at.date(),
        client=file.client(revision.client_id).name,
        guardian=_has_guardian(file, talk),
        until=talk.together.until,
        placement=alone,
        answers=talk.together,
        note=chosen.note.strip(),
        jewellery=_jewellery(alone, chosen),
        pierced=bool(revision.pierced_by),
        plan=_plan(revision, chosen),
        trips=named(chosen.trips, language(chosen.code)),
    )
    return client_sheet_pdf(sheet, code=chosen.code, paper=chosen.paper, picture_png=picture_png)


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


def _plan(revision: Revision, chosen: Chosen) -> Plan | None:
    """Return the plan's days; none where it doesn't go ahead, so that no day is promised."""
    if chosen.decided != "goes_ahead":
        return None
    return plan_from(chosen.day or revision.created_at.date())


def calendar_of(client: str, side: str, day: date, code: str, stamp: datetime) -> bytes:
    """Return the visits after a day as a calendar file; made again, it renews the same events."""
    uid = sha256(f"{client} {side}".encode()).hexdigest()[:24]
    minutes = int(stamp.timestamp() // 60)  # counts up, and stays a small whole number
    return calendar_file(plan_from(day), language(code), uid=uid, stamp=stamp, sequence=minutes)


def check_calendar(of: str, check: NextCheck, code: str, stamp: datetime) -> bytes:
    """Return the next check as a calendar file; made again, it renews the same event.

    Parameters
    ----------
    of : what tells the piercing from all others; nothing of it can be read in the file
    """
    uid = sha256(of.encode()).hexdigest()[:24]
    minutes = int(stamp.timestamp() // 60)
    spans = {check.name: check.days}
    return spans_file(spans, language(code), uid=uid, stamp=stamp, sequence=minutes)
