"""Visits after a piercing, in the client file: what is in, and the gate before one is kept.

**The gate** is :func:`record_visit` with ``assess.visit_record``: a piercer who is signed in keeps
it, on an assessment that isn't void, of a placement that is in it; whoever did it is a piercer who
works here; photos only with the client's consent.  Kept once for a token.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError

from assess.insertion import RecordError
from assess.visit_record import Noted, Trouble, VisitRecord, WornNow
from calibration.photo import PhotoError
from rimspan.clientfile import ClientFile, DamagedError, NewRecord, Person, RefusedError, Revision
from rimspan.studio import NotAllowedError, decider

VISIT, INSERTION = "visit", "insertion"
_VISIT, _WORN = TypeAdapter(VisitRecord), TypeAdapter(WornNow)


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


def kept_visit(record: Any) -> Kept:  # noqa: ANN401  (a record of the file)
    """Return the visit that a record is of.

    Raises
    ------
    DamagedError
        If it can't be read.
    """
    held = dict(record.document)
    side = str(held.pop("side", ""))
    held.pop("token", None)
    try:
        visit = _VISIT.validate_python(held)
    except (ValidationError, RecordError):
        raise DamagedError(f"visit {record.number}: can't be read") from None
    client = str(record.client_id)
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
    for record in reversed(file.records(INSERTION, client)):
        if record.document.get("revision") != revision:
            continue
        on = pierced_on(record.document.get("at"), record.created_at)
        put |= {str(each["label"]): (on, worn_of(each)) for each in record.document["put_in"]}
        declined |= {str(each["label"]) for each in record.document.get("declined", ())}
    return put, declined


def pierced_on(at: object, kept_at: datetime) -> date:
    """Return the day of an insertion: as it says, or that on which it was kept."""
    return (datetime.fromisoformat(at) if isinstance(at, str) else kept_at).astimezone().date()


def worn_of(put_in: Any) -> WornNow:  # noqa: ANN401  (JSON)
    """Return the post that an insertion says went in."""
    known = ("gauge_mm", "length_mm", "stock_key", "lot", "batch")
    return _WORN.validate_python({name: put_in[name] for name in known if name in put_in})


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
    records = file.records(VISIT, client)
    for known in records:
        if known.document.get("token") == token:
            return kept_visit(known)
    revision = _counting(file, client, visit.revision)
    _check_piercer(file, visit.done_by)
    now = [p for p in piercings(file, client, revision) if p.label == visit.label]
    if not now:
        raise RefusedError(f"placement {visit.label}: isn't in revision {revision.number}")
    if now[0].out:
        raise RefusedError(f"placement {visit.label}: was removed at an earlier visit")
    whole, hashes = _with_photos(file, name, client, revision.side, visit, photos)
    document = _VISIT.dump_python(whole, mode="json") | {"side": revision.side, "token": token}
    new = NewRecord(VISIT, name, document, client, hashes, after=len(records))
    return kept_visit(file.add_record(new, token))


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
    hashes = tuple(dict.fromkeys(each.photo for each in noted if each.photo is not None))
    return replace(visit, troubles=noted), hashes
