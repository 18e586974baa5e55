"""Restoring a backup into a new store; who was erased since doesn't come back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from zipfile import ZipFile

from sqlalchemy import Connection, Engine, func, select

from rimspan.clientfile import database, tables
from rimspan.clientfile.backup import (
    Header,
    erased_in,
    faults_of,
    opened,
    read_header,
    slots_in,
)
from rimspan.clientfile.base import Base
from rimspan.clientfile.blobs import Blobs
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.dumping import SUFFIX, insert_lines, reflected
from rimspan.clientfile.erasing import ERASED, destroy, tombstones
from rimspan.clientfile.errors import ClientFileError, DamagedError, RefusedError, StoreError
from rimspan.clientfile.keys import KeyRing
from rimspan.clientfile.opening import Secret, blobs_of, open_store, unlocked
from rimspan.clientfile.verifying import verify


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore came to: how many clients, whose erasure was done again, what is damaged."""

    clients: int
    erased_again: int
    lists_read: int
    faults: list[str]


def restore(
    backup: Path, store: str | Path, secret: Secret, newer: Iterable[str | Path] = ()
) -> Restored:
    """Restore a backup into a store that is new.

    Clients who were erased since it was made are erased again: their ids are in every later
    backup of the same store.  Those that lie beside this backup are looked at, and ``newer``.

    Parameters
    ----------
    newer : stores or later backups to take erased ids from, besides

    Raises
    ------
    RefusedError
        If the store isn't new.
    DamagedError
        If the backup isn't as it was written; nothing is restored then.
    WrongKeyError
        If the passphrase isn't that of the backup.
    """
    with opened(backup) as archive:
        header = read_header(backup)
        ring = unlocked(slots_in(archive, backup), secret, str(backup))
        faults = list(faults_of(archive, backup, ring))
        if faults:
            raise DamagedError("\n".join(faults[:20]))
        gone, lists = _gone(backup, ring, secret, newer)
        gone |= set(erased_in(header))
        engine, blobs = database.raw_engine(store), blobs_of(store)
        database.record_pages(engine, ring)
        with database.opening(store, engine):
            again = _filled(engine, blobs, ring, archive, header, gone)
    file = Base(engine, blobs, ring)
    with file.reading() as connection:
        count = connection.scalar(select(func.count()).select_from(tables.client_key)) or 0
    found = Restored(int(count), again, lists, verify(file, header.head))
    engine.dispose()
    return found


def _filled(
    engine: Engine,
    blobs: Blobs,
    ring: KeyRing,
    archive: ZipFile,
    header: Header,
    gone: set[str],
) -> int:
    """Fill a new store in one step, and return how many clients were erased again."""
    with engine.begin() as connection:
        database.migration_lock(connection)
        if database.schema_of(connection) is not None:
            said = "a backup is only restored into a new one"
            raise RefusedError(f"there is a client file already; {said}")
        if header.schema > database.newest_schema():
            raise StoreError("the backup is of a newer version of this program; update it")
        database.migrate(connection, header.schema, ring=ring, slots={}, blobs=blobs)
        for table in reflected(connection):
            with archive.open(f"tables/{table.name}.jsonl") as lines:
                insert_lines(connection, table, lines)
        for name in _blobs_in(archive):
            blobs.put(connection, name, archive.read(f"blobs/{name}"))
        database.migrate(connection, ring=ring, slots={}, blobs=blobs)
        return _erased_again(Base(engine, blobs, ring), connection, header, gone)


def _blobs_in(archive: ZipFile) -> Iterator[str]:
    for name in archive.namelist():
        if name.startswith("blobs/"):
            yield name.removeprefix("blobs/")


def _erased_again(file: Base, connection: Connection, header: Header, gone: set[str]) -> int:
    file.note(connection, Entry("restored", record=header.made_at))
    photos = tables.photo_index.c
    of_them = select(photos.photo_id).where(photos.client_id.in_(gone))
    left = list(connection.scalars(of_them))
    done = sum(destroy(file, connection, client, ERASED, "") for client in sorted(gone))
    for photo in left:
        file.blobs.remove(connection, photo)
    return done


def _gone(
    backup: Path, ring: KeyRing, secret: Secret, newer: Iterable[str | Path]
) -> tuple[set[str], int]:
    """Return who was erased by what later backups and stores know, and how many were asked."""
    gone: set[str] = set()
    lists = 0
    named = [Path(each) for each in newer if str(each).endswith(SUFFIX)]
    for place in [*backup.resolve().parent.glob(f"*{SUFFIX}"), *named]:
        try:
            header = read_header(place)
        except ClientFileError:
            if place in named:
                raise
            continue  # something else that lies there
        if header.vouched(ring):
            gone |= set(erased_in(header))
            lists += place.resolve() != backup.resolve()
        elif place in named:
            raise DamagedError(f"{place}: is no backup of the same client file, or was changed")
    for store in newer:
        if not str(store).endswith(SUFFIX):
            gone |= _gone_in(store, ring, secret)
            lists += 1
    return gone, lists


def _gone_in(store: str | Path, ring: KeyRing, secret: Secret) -> set[str]:
    engine, _, other = open_store(store, secret)
    try:
        if other.store != ring.store:
            raise RefusedError(f"{store}: is another client file, not a later state of this one")
        with database.reading(engine) as connection:
            return set(tombstones(connection))
    finally:
        engine.dispose()
