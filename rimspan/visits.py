"""Visits after a piercing, in the client file: what is in, and the gate before one is kept.

**The gate** is :func:`record_visit` with ``assess.visit_record``: a piercer who is signed in keeps
it, on an assessment that isn't void, of a placement that is in it; whoever did it is a piercer who
works here; photos only with the client's consent.  Kept once for a token.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from pydantic import TypeAdapter

from assess.stock import StockError
from assess.visit_record import Noted, Trouble, VisitRecord, WornNow
from calibration.photo import PhotoError
from rimspan.clientfile import (
    ClientFile,
    NewRecord,
    Person,
    Record,
    RefusedError,
    Revision,
)
from rimspan.insertions import sittings
from rimspan.kept_records import read_back
from rimspan.stock_keeping import new_version, stock_of
from rimspan.studio import NotAllowedError, decider
from rimspan.studio_clock import day_of

VISIT = "visit"
_VISIT = TypeAdapter(VisitRecord)


@dataclass(frozen=True, slots=True)
class Kept:
    """A visit as it is kept."""

    number: int
    client_id: str
    side: str
    visit: VisitRecord
    recorded_by: str
    photos: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sent:
    """A photo of a trouble, as it came."""

    trouble: Trouble
    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Piercing:
    """One placement of an assessment after it was pierced, as far as is known.

    ``worn`` is None where nobody said what is in; ``out`` where it was removed.
    """

    revision: Revision
    label: str
    pierced_on: date | None
    worn: WornNow | None
    visits: tuple[Kept, ...] = ()

    @property
    def out(self) -> bool:
        """Return whether it was removed."""
        return bool(self.visits) and self.visits[-1].visit.after is None


def visits_of(file: ClientFile, client: str) -> list[Kept]:
    """Return a client's visits, the oldest first.

    Raises
    ------
    DamagedError
        If one can't be read.
    """
    return [kept_visit(record) for record in reversed(file.records(VISIT, client))]


def kept_visit(record: Record) -> Kept:
    """Return the visit that a record is of.

    Raises
    ------
    DamagedError
        If it can't be read.
    """
    visit = read_back(record, _VISIT, "visit")
    client, side = str(record.client_id), str(record.document.get("side", ""))
    return Kept(record.number, client, side, visit, record.by, record.photos)


def piercings(file: ClientFile, client: str, revision: Revision) -> list[Piercing]:
    """Return an assessment's placements as they are after the piercing.

    One that was declined is none.
    """
    seen = [kept for kept in visits_of(file, client) if kept.visit.revision == revision.number]
    put, declined = _put_in(file, client, revision.number)
    found = []
    for placement in revision.result.get("placements", ()):
        label = str(placement["label"])
        if label in declined and label not in put:
            continue
        visits = tuple(kept for kept in seen if kept.visit.label == label)
        on, worn = put.get(label, (None, None))
        if visits:
            on, worn = visits[-1].visit.pierced_on, visits[-1].visit.after
        found.append(Piercing(revision, label, on, worn, visits))
    return found


def _put_in(
    file: ClientFile, client: str, revision: int
) -> tuple[dict[str, tuple[date, WornNow]], set[str]]:
    put: dict[str, tuple[date, WornNow]] = {}
    declined: set[str] = set()
    for sitting in reversed(sittings(file, client)):
        if sitting.revision != revision:
            continue
        on = day_of(file, sitting.insertion.at)
        for each in sitting.insertion.put_in:
            post = WornNow(each.gauge_mm, each.length_mm, each.stock_key, each.lot, each.batch)
            put[each.label] = (on, post)
        declined |= {each.label for each in sitting.insertion.declined}
    return put, declined


def record_visit(
    file: ClientFile,
    by: Person | None,
    client: str,
    visit: VisitRecord,
    token: str,
    photos: Sequence[Sent] = (),
) -> Kept:
    """Keep a visit; the same token again keeps nothing more.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or an apprentice, or an apprentice is said to have done it.
    RefusedError
        If the assessment is void, it lacks the placement, it was removed before, or the client
        withdrew the consent to photos.
    OvertakenError
        If another chair kept a visit meanwhile.
    """
    name = decider(file, by).name
    count = len(file.records(VISIT, client))
    known = file.known_record(NewRecord(VISIT, name, {}, client), token)
    if known is not None:
        return kept_visit(known)
    revision = _counting(file, client, visit.revision)
    _check_piercer(file, visit.done_by)
    _check_in(file, client, revision, visit)
    stock = _stock_after(file, name, visit)
    whole, hashes = _with_photos(file, name, client, revision.side, visit, photos)
    document = _VISIT.dump_python(whole, mode="json") | {"side": revision.side}
    new = NewRecord(VISIT, name, document, client, hashes, after=count)
    return kept_visit(file.add_records([new, *stock], token)[0])


def _check_in(file: ClientFile, client: str, revision: Revision, visit: VisitRecord) -> None:
    """Refuse a placement that isn't there, is out, or has another post in than the visit says."""
    now = [p for p in piercings(file, client, revision) if p.label == visit.label]
    if not now:
        raise RefusedError(f"placement {visit.label}: isn't in revision {revision.number}")
    if now[0].out:
        raise RefusedError(f"placement {visit.label}: was removed at an earlier visit")
    if now[0].worn is not None and now[0].worn != visit.before:
        raise RefusedError("another post is in by what was kept meanwhile; look at it again")


def _stock_after(file: ClientFile, by: str, visit: VisitRecord) -> list[NewRecord]:
    """Return the stock's next version, where a post of it went in; else nothing."""
    if visit.after is None or visit.after == visit.before or not visit.after.stock_key:
        return []
    stock, key = stock_of(file), visit.after.stock_key
    try:
        left = stock.stock.taken([key])
    except StockError as error:
        raise RefusedError(str(error)) from None
    return [new_version(left, stock.number, by, f"1 taken: no. {key}, at a visit")]


def _counting(file: ClientFile, client: str, number: int) -> Revision:
    for revision in file.revisions(client):
        if revision.number == number:
            if revision.void is not None:
                raise RefusedError(f"revision {number} is void: keep it with one that counts")
            return revision
    raise RefusedError(f"there is no revision {number} of this client")


def _check_piercer(file: ClientFile, name: str) -> None:
    fits = [p for p in file.people.all() if p.active and p.name == name.strip()]
    if not any(person.role.may_confirm for person in fits):
        raise NotAllowedError(f"{name.strip() or 'Nobody'} isn't a piercer here; say who did it.")


def _with_photos(
    file: ClientFile,
    by: str,
    client: str,
    side: str,
    visit: VisitRecord,
    photos: Sequence[Sent],
) -> tuple[VisitRecord, tuple[str, ...]]:
    """Keep the photos of troubles, and name each beside its trouble."""
    kept: dict[str, str] = {}
    for sent in photos:
        try:
            kept[sent.trouble] = file.add_photo(client, sent.data, sent.name, side, by).sha256
        except PhotoError as error:
            raise RefusedError(f"{sent.name}: {error}") from None
    noted = tuple(
        Noted(each.trouble, each.words, kept.get(each.trouble, each.photo))
        for each in visit.troubles
    )
    compared = visit.recheck.hashes if visit.recheck is not None else ()
    troubles = [each.photo for each in noted if each.photo is not None]
    hashes = tuple(dict.fromkeys([*compared, *troubles]))
    return replace(visit, troubles=noted), hashes
