"""Who is due, and what became of piercings: read from what the client file keeps of all clients."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from pydantic import TypeAdapter

from assess.due_list import Expected, State, first_check, in_order
from assess.outcome_counts import ENDINGS, Followed, OutcomeRecord
from assess.visit_record import NextCheck
from rimspan.clientfile import (
    ClientFile,
    NewRecord,
    Person,
    Record,
    RefusedError,
    Revision,
)
from rimspan.insertions import INSERTION
from rimspan.kept_records import read_back
from rimspan.studio import decider
from rimspan.studio_clock import day_of, today
from rimspan.visits import VISIT, kept_visit

OUTCOME = "outcome"
_OUTCOME = TypeAdapter(OutcomeRecord)

Key = tuple[str, int, str]
"""A piercing: the client, the number of the assessment, the placement."""


@dataclass(frozen=True, slots=True)
class Who:
    """Whose piercing is due."""

    client_id: str
    name: str
    side: str
    revision: int
    label: str


@dataclass(slots=True)
class _Known:
    """What is known of one piercing, while it is gathered."""

    side: str = ""
    check: NextCheck | None = None
    seen_on: date = date.min
    noted: list[OutcomeRecord] = field(default_factory=list)

    @property
    def ended(self) -> bool:
        endings = [each for each in self.noted if each.became in ENDINGS]
        return bool(endings) and endings[-1].on >= self.seen_on


def _oldest_first(file: ClientFile, kind: str) -> list[Record]:
    return file.records_of_all(kind)[::-1]


def _gathered(file: ClientFile) -> dict[Key, _Known]:
    found: dict[Key, _Known] = {}

    def of(client: str | None, revision: object, label: object) -> _Known:
        return found.setdefault((str(client), int(str(revision)), str(label)), _Known())

    for record in _oldest_first(file, INSERTION):
        on = day_of(file, datetime.fromisoformat(record.document["at"]))
        for put in record.document["put_in"]:
            known = of(record.client_id, record.document["revision"], put["label"])
            known.side = str(record.document["side"])
            known.check, known.seen_on = first_check(on), on
    for record in _oldest_first(file, VISIT):
        if "done" not in record.document:
            continue
        kept = kept_visit(record)
        known = of(kept.client_id, kept.visit.revision, kept.visit.label)
        known.side, known.check = kept.side, kept.visit.next_check
        known.seen_on = kept.visit.on
    for record in _oldest_first(file, OUTCOME):
        noted = kept_outcome(record)
        of(record.client_id, noted.revision, noted.label).noted.append(noted)
    return found


def due(file: ClientFile) -> dict[State, tuple[Expected[Who], ...]]:
    """Return who is due, overdue, silent or expected later; nobody of whom an end is noted."""
    names = {client.id: client.name for client in file.clients()}
    expected = [
        Expected(Who(client, names[client], known.side, revision, label), known.check)
        for (client, revision, label), known in _gathered(file).items()
        if client in names and known.check is not None and not known.ended
    ]
    return in_order(expected, today(file))


def kept_outcome(record: Record) -> OutcomeRecord:
    """Return the outcome that a record is of.

    Raises
    ------
    DamagedError
        If it can't be read.
    """
    return read_back(record, _OUTCOME, "outcome")


def record_outcome(
    file: ClientFile, by: Person | None, client: str, outcome: OutcomeRecord, token: str
) -> OutcomeRecord:
    """Keep what became of a piercing; a piercer does, and the same token keeps nothing more.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or an apprentice.
    RefusedError
        If there is no such placement.
    """
    name = decider(file, by).name
    revision = _revision(file, client, outcome.revision)
    if _placement(revision, outcome.label) is None:
        raise RefusedError(f"placement {outcome.label}: isn't in revision {outcome.revision}")
    document: dict[str, Any] = _OUTCOME.dump_python(outcome, mode="json")
    document["side"] = revision.side
    return kept_outcome(file.add_record(NewRecord(OUTCOME, name, document, client), token))


def _revision(file: ClientFile, client: str, number: int) -> Revision:
    for revision in file.revisions(client):
        if revision.number == number:
            return revision
    raise RefusedError(f"there is no revision {number} of this client")


def _placement(revision: Revision, label: str) -> dict[str, Any] | None:
    placements: list[dict[str, Any]] = list(revision.result.get("placements", ()))
    return next((each for each in placements if str(each["label"]) == label), None)


def limits_name(revision: Revision) -> str:
    """Return under which limits an assessment was made."""
    return f"{revision.criteria.get('name')}, version {revision.criteria.get('version')}"


def followed(file: ClientFile) -> list[Followed]:
    """Return the piercings of which an outcome is noted, with channel and limits as saved."""
    found = []
    known = {client.id for client in file.clients()}
    for (client, number, label), each in _gathered(file).items():
        if client not in known or not each.noted:
            continue
        revision = _revision(file, client, number)
        channel = (_placement(revision, label) or {}).get("channel")
        noted = tuple(note.became for note in each.noted)
        mm = None if channel is None else float(channel["value"])
        found.append(Followed(noted, limits_name(revision), mm))
    return found


def outcomes_of(file: ClientFile, client: str) -> list[OutcomeRecord]:
    """Return what is noted of a client's piercings, the oldest first."""
    return [kept_outcome(record) for record in reversed(file.records(OUTCOME, client))]
