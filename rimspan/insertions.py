"""What was done at the chair, kept in the client file: put in, declined, the photo after.

**The gate before anything is put in** is :func:`record_insertion` with ``assess.insertion``: a
signed assessment that isn't void, by a named piercer; age and consent met by what the studio sets
now; a piercer who records it and one who pierced.  The stock is counted down in the same step as
the record is kept, once for a token.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from pydantic import TypeAdapter, ValidationError

from assess.insertion import (
    Assessed,
    Declined,
    Insertion,
    OpenedUnused,
    RecordError,
    insert,
    open_questions,
)
from assess.stock import Stock, StockError, StockItem
from assess.talk.consent import unmet
from assess.talk.record import talk_from
from rimspan.clientfile import (
    ClientFile,
    DamagedError,
    NewRecord,
    Person,
    Record,
    RefusedError,
    Revision,
)
from rimspan.stock_keeping import new_version, stock_of
from rimspan.studio import NotAllowedError, age_rules, at_work, decider
from rimspan.studio_clock import day_of

AHEAD = timedelta(minutes=5)
"""Clocks of chairs differ by less."""

INSERTION, BASELINE = "insertion", "baseline"
_INSERTION, _ITEM = TypeAdapter(Insertion), TypeAdapter(StockItem)


@dataclass(frozen=True, slots=True)
class Happened:
    """What the piercer says happened at the chair."""

    at: datetime
    pierced_by: str
    chosen: Mapping[str, str] = field(default_factory=dict)
    """Placement -> key of the post that went in."""
    opened_unused: tuple[OpenedUnused, ...] = ()
    declined: tuple[Declined, ...] = ()
    dots_anew: bool = False
    changed: bool = False
    because: str = ""


@dataclass(frozen=True, slots=True)
class Sitting:
    """An insertion as it is kept, with what was known of each post, and the photos right after."""

    number: int
    revision: int
    """The number of the assessment."""
    side: str
    insertion: Insertion
    items: Mapping[str, StockItem]
    recorded_by: str
    baseline: tuple[str, ...] = ()

    @property
    def labels(self) -> set[str]:
        """Return the placements that it says something of."""
        put_in = {each.label for each in self.insertion.put_in}
        return put_in | {each.label for each in self.insertion.declined}

    @property
    def lacks_baseline(self) -> bool:
        """Return whether a post went in and no photo of it was taken right after."""
        return self.insertion.lacks_baseline and not self.baseline


def assessed_of(file: ClientFile, revision: Revision) -> Assessed:
    """Return what an insertion stands on; dots were drawn, as far as is known, before it."""
    talk = talk_from(revision.saved.talk, photos_kept=bool(revision.saved.photos))
    at = revision.created_at.astimezone()
    return Assessed(
        str(revision.number),
        day_of(file, at),
        at,
        revision.decided_by,
        void=revision.void is not None,
        consent_lacks=tuple(s.text for s in unmet(talk.facts, age_rules(file))),
    )


def record_insertion(
    file: ClientFile, by: Person | None, revision_id: str, what: Happened, token: str
) -> Sitting:
    """Keep what really happened, and count the stock down; the same token again does neither.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or an apprentice, or an apprentice is said to have pierced.
    RefusedError
        If the assessment is void, age and consent aren't met, a placement was recorded before, a
        post isn't there, or something speaks against it and no reason is given.
    OvertakenError
        If another chair recorded something meanwhile.
    """
    name = decider(file, by).name
    revision = file.revision(revision_id)
    known = sittings(file, revision.client_id)
    new = NewRecord(INSERTION, name, {}, revision.client_id, after=len(known))
    kept = file.known_record(new, token)
    if kept is not None:
        return next(each for each in known if each.number == kept.number)
    _check_piercer(file, what.pierced_by)
    _check_placements(revision, known, what)
    if what.at > file.clock() + AHEAD:
        raise RefusedError("that moment is still to come; record it once it is done")
    stock = stock_of(file)
    record, left = _inserted(stock.stock, assessed_of(file, revision), what)
    used = [*what.chosen.values(), *(each.stock_key for each in what.opened_unused)]
    document = _INSERTION.dump_python(record, mode="json") | {
        "revision": revision.number,
        "side": revision.side,
        "items": [_ITEM.dump_python(stock.stock.item(key), mode="json") for key in set(used)],
    }
    both = [NewRecord(INSERTION, name, document, revision.client_id, after=len(known))]
    if used:
        words = f"{len(used)} taken: {', '.join(f'no. {key}' for key in used)}"
        both.append(new_version(left, stock.number, name, words))
    number = file.add_records(both, token)[0].number
    return next(each for each in sittings(file, revision.client_id) if each.number == number)


def _inserted(stock: Stock, assessed: Assessed, what: Happened) -> tuple[Insertion, Stock]:
    try:
        return insert(
            stock,
            assessed,
            what.at,
            what.pierced_by,
            what.chosen,
            dots_drawn=dots_drawn(assessed, what),
            changed=what.changed,
            opened_unused=what.opened_unused,
            declined=what.declined,
            because=what.because,
        )
    except (RecordError, StockError) as error:
        raise RefusedError(str(error)) from None


def dots_drawn(assessed: Assessed, what: Happened) -> datetime:
    """Return when the dots on the ear were drawn last, as far as the piercer says."""
    anew = max(what.at, assessed.dots_drawn + timedelta(microseconds=1))
    return anew if what.dots_anew else assessed.dots_drawn


def speaks_against(file: ClientFile, revision: Revision, what: Happened) -> tuple[str, ...]:
    """Return what asks for a reason before it is recorded so, as a person reads it."""
    assessed = assessed_of(file, revision)
    return open_questions(
        stock_of(file).stock,
        assessed,
        what.at,
        what.chosen,
        dots_drawn=dots_drawn(assessed, what),
        changed=what.changed,
    )


def _check_piercer(file: ClientFile, name: str) -> None:
    fits = [p for p in file.people.all() if p.active and p.name == name.strip()]
    if not any(person.role.may_confirm for person in fits):
        raise NotAllowedError(f"{name.strip() or 'Nobody'} isn't a piercer here; say who pierced.")


def _check_placements(revision: Revision, known: list[Sitting], what: Happened) -> None:
    there = {placement["label"] for placement in revision.result.get("placements", ())}
    named = [*what.chosen, *(each.label for each in what.declined)]
    for label in named:
        if label not in there:
            raise RefusedError(f"placement {label}: isn't in revision {revision.number}")
    done: set[str] = set()
    for sitting in known:
        if sitting.revision == revision.number:
            done |= sitting.labels
    if again := sorted(done & set(named)):
        said = f"was recorded before for revision {revision.number}"
        raise RefusedError(f"placement {', '.join(again)}: {said}")


def sittings(file: ClientFile, client: str) -> list[Sitting]:
    """Return what was put in at each sitting of a client, the newest first.

    Raises
    ------
    DamagedError
        If one can't be read.
    """
    photos: dict[int, tuple[str, ...]] = {}
    for record in reversed(file.records(BASELINE, client)):
        number = int(record.document["insertion"])
        photos[number] = (*photos.get(number, ()), *record.photos)
    return [_sitting(r, photos.get(r.number, ())) for r in file.records(INSERTION, client)]


def _sitting(record: Record, baseline: tuple[str, ...]) -> Sitting:
    held: dict[str, Any] = dict(record.document)
    try:
        items = [_ITEM.validate_python(each) for each in held.pop("items")]
        revision, side = int(held.pop("revision")), str(held.pop("side"))
        insertion = _INSERTION.validate_python(held)
    except (ValidationError, RecordError, StockError, KeyError):
        raise DamagedError(f"insertion {record.number}: can't be read") from None
    by_key = {item.key: item for item in items}
    return Sitting(record.number, revision, side, insertion, by_key, record.by, baseline)


def record_baseline(
    file: ClientFile,
    by: Person | None,
    client: str,
    number: int,
    photos: tuple[str, ...],
    token: str,
) -> Record:
    """Keep which photos were taken right after an insertion: post in, ear cleaned.

    Everybody here may take them.

    Raises
    ------
    NotAllowedError
        If nobody is signed in.
    RefusedError
        If there is no such insertion, or no photo.
    """
    name = at_work(file, by).name
    if all(each.number != number for each in file.records(INSERTION, client)):
        raise RefusedError(f"insertion {number}: isn't in this client's file")
    if not photos:
        raise RefusedError("no photo was taken in; choose one")
    held = {"insertion": number}
    return file.add_record(NewRecord(BASELINE, name, held, client, photos), token)
