"""Proving that a client file is whole: every link, row, sealed value and photo is looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from sqlalchemy import Connection, Row, Table, select
from sqlalchemy.exc import DatabaseError

from rimspan.clientfile import chain, tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.chain import START, Head, mark, row_digest
from rimspan.clientfile.database import holding_of, reading, whole
from rimspan.clientfile.definitions import changed_definitions
from rimspan.clientfile.errors import ClientFileError
from rimspan.clientfile.pages import unexpected
from rimspan.clientfile.triggers import trigger_names, triggers_there
from rimspan.clientfile.verifying_values import values_of

MOST = 200
"""Damages named; beyond them the file is best restored whole."""
BATCH = 100

RECORDS: dict[str, tuple[Table, Callable[[Row[Any]], str]]] = {
    "client": (tables.client, lambda row: row.id),
    "name": (tables.client_name, lambda row: f"{row.client_id}/{row.version}"),
    "erased": (tables.erased, lambda row: row.client_id),
    "photo": (tables.photo, lambda row: row.id),
    "revision": (tables.revision, lambda row: row.id),
    "void": (tables.void, lambda row: row.revision_id),
    "consent": (tables.consent, lambda row: row.id),
    "record": (tables.client_record, lambda row: row.id),
    "studio": (tables.studio_record, lambda row: row.id),
    "person": (tables.person, lambda row: f"{row.id}/{row.version}"),
    "setting": (tables.setting, lambda row: f"{row.name}/{row.version}"),
}
"""Each kind of entry that stands for a row: its table, and how the row is named."""


def verify(file: Base, backup: Head | None = None) -> list[str]:
    """Return a line for each damage, none if all is whole.

    Parameters
    ----------
    backup : the head of the chain when a backup was made; it must still be in the chain
    """
    found: list[str] = []
    for fault in _faults(file, backup):
        if len(found) >= MOST:
            found.append("and more: restore the whole file from a backup")
            break
        found.append(fault)
    return found


def unseen(file: Base) -> str | None:
    """Return why bytes of the database that no row uses couldn't be looked at, or None."""
    holding = holding_of(file.engine)
    if holding is not None:
        return holding.unseen()
    with file.reading() as connection:
        checked = connection.exec_driver_sql("SHOW data_checksums").scalar()
    return f"a server looks after its own pages, and its data checksums are {checked}"


def _faults(file: Base, backup: Head | None) -> Iterator[str]:
    holding = holding_of(file.engine)
    if holding is not None:
        yield from holding.faults()
    parts = (_engine_faults, _definition_faults, _row_faults, _leaving_faults, values_of)
    try:
        with reading(file.engine) as connection:
            yield from _chain_faults(file, connection, backup)
            for part in parts:
                try:
                    yield from part(file, connection)
                except (ValueError, TypeError):  # damage can make another kind of value of one
                    yield "the database itself: is damaged (a value can't be read)"
    except DatabaseError as error:  # where the database can't even be read on
        yield f"the database itself: is damaged ({str(error.orig).splitlines()[0]})"
        yield from _engine_alone(file)


def _engine_alone(file: Base) -> Iterator[str]:
    try:
        with reading(file.engine) as connection:
            yield from _engine_faults(file, connection)
    except DatabaseError:
        return


def _engine_faults(file: Base, connection: Connection) -> Iterator[str]:
    if connection.dialect.name != "sqlite":
        return  # a server checks its own pages: initdb --data-checksums
    sound = True
    for said in connection.exec_driver_sql("PRAGMA integrity_check(20)").scalars():
        for line in str(said).splitlines():
            if line != "ok":
                sound = False
                yield f"the database itself: is damaged ({line})"
    if sound:  # else its pages can't be followed
        for line in unexpected(*whole(connection)):
            yield f"the database itself: is damaged ({line})"
    for row in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"the database itself: a row of {row[0]} belongs to none of {row[2]}"


def _definition_faults(file: Base, connection: Connection) -> Iterator[str]:
    wanted = trigger_names(connection.dialect.name, tables.FIXED)
    for name in sorted(wanted - triggers_there(connection)):
        yield f"the database itself: has lost the trigger {name}"
    if connection.dialect.name == "sqlite":
        for name in changed_definitions(connection):
            yield f"the database itself: is damaged ({name} isn't defined as it was made)"


def _chain_faults(file: Base, connection: Connection, backup: Head | None) -> Iterator[str]:
    before, expected, met = START, 1, backup is None or backup.seq == 0
    wanted = select(tables.chain).order_by(tables.chain.c.seq)
    for row in connection.execute(wanted.execution_options(yield_per=BATCH)):
        if row.seq != expected:
            yield f"chain: entries {expected} to {row.seq - 1} are missing"
        values = {name: held for name, held in row._mapping.items() if name != "mac"}
        if mark(file.ring, values, before) != row.mac:
            yield f"chain: entry {row.seq} ({row.kind}) was changed, or the one before it"
        else:
            try:
                chain.detail_of(file.ring, row)
            except ClientFileError as error:
                yield f"chain: entry {row.seq}: {error}"
        if backup is not None and row.seq == backup.seq:
            met = row.mac == backup.mac
        before, expected = row.mac, row.seq + 1
    if not met and backup is not None:
        yield f"chain: entry {backup.seq} isn't the one that the backup knows, or was cut off"


def _row_faults(file: Base, connection: Connection) -> Iterator[str]:
    """Yield where a row and its entry differ, either is missing, or two stand for one."""
    digests: dict[tuple[str, str], str] = {}
    entry = tables.chain.c
    for held in connection.execute(select(entry.kind, entry.record, entry.digest)):
        if held.kind in RECORDS:
            if (held.kind, held.record) in digests:
                yield f"{held.kind} {held.record}: stands twice in the chain"
            digests[held.kind, held.record] = held.digest
    for kind, (table, name_of) in RECORDS.items():
        wanted = select(table).execution_options(yield_per=BATCH)
        for row in connection.execute(wanted):
            name = name_of(row)
            digest = digests.pop((kind, name), None)
            if digest is None:
                yield f"{_said(kind, row)}: is not in the chain"
            elif digest != row_digest(dict(row._mapping)):
                yield f"{_said(kind, row)}: is not as it was saved"
    for kind, record in digests:
        yield f"{kind} {record}: is in the chain, but its row is gone"


def _leaving_faults(file: Base, connection: Connection) -> Iterator[str]:
    """Yield which walk-ins aren't listed to be let go, and who is listed and stays."""
    listed = set(connection.scalars(select(tables.leaving.c.client_id)))
    passing = {row.id for row in connection.execute(tables.walk_ins())}
    gone = set(connection.scalars(select(tables.erased.c.client_id)))
    for client in sorted(passing - listed):
        yield f"client {client}: is a walk-in and not listed as one"
    for client in sorted(listed - passing - gone):
        yield f"client {client}: is listed as one who goes, and stays"


def _said(kind: str, row: Row[Any]) -> str:
    if kind == "revision":
        return f"revision {row.number} of client {row.client_id}"
    return f"{kind} {RECORDS[kind][1](row)}"
