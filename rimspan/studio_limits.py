"""The studio's limits in the client file: versions, each by a named manager, with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from assess.changed_criteria import CriteriaError, Sides, changed_criteria
from assess.criteria import DEFAULT_CRITERIA, Criteria
from rimspan.clientfile import ClientFile, DamagedError, NewRecord, Person, Record, RefusedError
from rimspan.studio import manager

CRITERIA = "criteria"


@dataclass(frozen=True, slots=True)
class Version:
    """A version of the limits: who set it, when and why."""

    number: int
    criteria: Criteria
    by: str
    at: datetime
    why: str


def criteria_of(file: ClientFile) -> Criteria:
    """Return the limits in force: the newest version, else the assumed defaults.

    Raises
    ------
    DamagedError
        If what is kept makes no sense.
    """
    newest = file.newest_record(CRITERIA)
    return DEFAULT_CRITERIA if newest is None else _version(newest).criteria


def versions(file: ClientFile) -> list[Version]:
    """Return all versions that were set, the newest first."""
    return [_version(record) for record in file.records(CRITERIA)]


def _version(record: Record) -> Version:
    try:
        criteria = Criteria.from_dict(record.document)
    except (ValueError, KeyError, TypeError):
        raise DamagedError(f"criteria {record.number}: can't be read") from None
    why = str(record.document.get("why", ""))
    return Version(record.number, criteria, record.by, record.created_at, why)


def set_criteria(
    file: ClientFile, by: Person | None, sides: Mapping[str, Sides], why: str, token: str
) -> Criteria:
    """Return the new limits, which measuring uses from now on; a manager sets them, with a reason.

    The same token again sets nothing more.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or somebody who may not manage.
    RefusedError
        If no reason is given, nothing changes, or a limit makes no sense.
    OvertakenError
        If another chair set limits meanwhile.
    """
    name = manager(file, by).name
    count = len(file.records(CRITERIA))
    known = file.known_record(NewRecord(CRITERIA, name, {}), token)
    if known is not None:
        return _version(known).criteria
    if not why.strip():
        raise RefusedError("say why the limits change")
    try:
        new = changed_criteria(criteria_of(file), sides, count + 1)
    except CriteriaError as error:
        raise RefusedError(str(error)) from None
    document = new.to_dict() | {"why": why.strip()}
    file.add_record(NewRecord(CRITERIA, name, document, after=count), token)
    return new
