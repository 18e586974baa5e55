"""Opening a store: whose key, which tables, and what it was before."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, select

from rimspan.clientfile import database, tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.blobs import Blobs, FolderBlobs, TableBlobs
from rimspan.clientfile.dumping import dump_place, dump_tables
from rimspan.clientfile.errors import LockedError, StoreError, WrongKeyError
from rimspan.clientfile.keys import (
    DEMO,
    DEMO_SECRET,
    PASSPHRASE,
    RECOVERY,
    KeyRing,
    checked_passphrase,
    new_ring,
    open_slot,
)
from rimspan.clientfile.recovery import read_recovery_key
from rimspan.clientfile.verifying import verify

PASSPHRASE_FROM = "RIMSPAN_PASSPHRASE"  # noqa: S105  (where it is, not what it is)
FIRST_SEALED = "0003"
"""The migration that brought keys; what is older gets them when it is opened."""


@dataclass(frozen=True, slots=True, repr=False)
class Secret:
    """What is given to open a store with."""

    passphrase: str | None
    recovery_key: str | None
    demo: bool

    @classmethod
    def given(cls, passphrase: str | None, recovery_key: str | None, *, demo: bool) -> Secret:
        """Return what is given, by default the environment's passphrase."""
        return cls(passphrase or os.environ.get(PASSPHRASE_FROM) or None, recovery_key, demo)


def needs(store: str | Path) -> str | None:
    """Return what a store needs to be opened: ``"passphrase"``, ``"new"`` one, or None.

    Raises
    ------
    StoreError
        If it can't be looked at.
    """
    if not database.is_url(store) and not (Path(store) / database.DATABASE).exists():
        return "new"
    engine = database.raw_engine(store)
    with database.opening(store, engine), database.reading(engine) as connection:
        held = _slots(connection)
    engine.dispose()
    if not held:
        return "new"
    return None if DEMO in held else "passphrase"


def open_store(store: str | Path, secret: Secret) -> tuple[Engine, Blobs, KeyRing]:
    """Return a store's engine, blobs and keys, its tables at the newest migration.

    Raises
    ------
    StoreError
        If it can't be opened.
    """
    if not database.is_url(store) and not (Path(store) / database.DATABASE).exists():
        _check_fresh(secret, store)  # before a file is made
    engine = database.raw_engine(store)
    blobs = blobs_of(store)
    with database.opening(store, engine):
        ring = _unlocked_at_head(engine, store, secret)
        if ring is None:
            ring = _brought_to_head(engine, blobs, store, secret)
        database.record_pages(engine, ring)
        before = dump_place(store, None)
        if before.exists():  # also after a crash: it holds what isn't sealed
            _forget_plain(Base(engine, blobs, ring), before)
    return engine, blobs, ring


def blobs_of(store: str | Path) -> Blobs:
    """Return where a store's photos lie."""
    return TableBlobs() if database.is_url(store) else FolderBlobs(Path(store) / "blobs")


def _unlocked_at_head(engine: Engine, store: str | Path, secret: Secret) -> KeyRing | None:
    """Return the keys of a store that needs no migration, without waiting for anybody."""
    with database.reading(engine) as connection:
        if database.schema_of(connection) != database.newest_schema():
            return None
        held = _slots(connection)
    return unlocked(held, secret, store)


def _brought_to_head(engine: Engine, blobs: Blobs, store: str | Path, secret: Secret) -> KeyRing:
    with engine.begin() as connection:
        database.migration_lock(connection)
        schema = database.schema_of(connection)
        _check_known(schema, store)
        if schema is None or schema < FIRST_SEALED:
            ring, slots = _fresh(secret, store)
        else:
            ring, slots = unlocked(_slots(connection), secret, store), {}
        if schema is not None and schema != database.newest_schema():
            named = schema if schema >= FIRST_SEALED else None
            dump_tables(connection, dump_place(store, named), schema)
        database.migrate(connection, ring=ring, slots=slots, blobs=blobs)
    return ring


def _check_known(schema: str | None, store: str | Path) -> None:
    if schema is not None and schema > database.newest_schema():
        said = "was written by a newer version of this program"
        raise StoreError(f"{database.shown(store)}: {said}; update the program")


def _fresh(secret: Secret, store: str | Path) -> tuple[KeyRing, dict[str, bytes]]:
    """Return the keys of a store that has none so far, and the slots to keep."""
    if secret.demo:
        ring = new_ring(demo=True)
        return ring, {DEMO: ring.slot(DEMO, DEMO_SECRET)}
    ring = new_ring()
    return ring, {PASSPHRASE: ring.slot(PASSPHRASE, _check_fresh(secret, store))}


def _check_fresh(secret: Secret, store: str | Path) -> str:
    """Return what a new store is sealed by."""
    if secret.demo:
        return DEMO_SECRET
    if secret.passphrase is None:
        said = "has no passphrase yet"
        raise LockedError(f"{database.shown(store)}: {said}; set one: {HOW}")
    return checked_passphrase(secret.passphrase)


HOW = f"start it in a terminal, which asks for it, or give it in {PASSPHRASE_FROM}"


def _slots(connection: Connection) -> dict[str, bytes]:
    if not inspect(connection).has_table(tables.key_slot.name):
        return {}
    rows = connection.execute(select(tables.key_slot))
    return {row.kind: bytes(row.document) for row in rows}


def unlocked(slots: dict[str, bytes], secret: Secret, store: str | Path) -> KeyRing:
    """Return the keys that a store's slots give to a secret.

    Raises
    ------
    StoreError
        If the store has lost its slots.
    LockedError
        If nothing is given that would open it.
    WrongKeyError
        If it doesn't.
    """
    name = database.shown(store)
    if DEMO in slots:
        return open_slot(DEMO, slots[DEMO], DEMO_SECRET)
    if not slots:
        raise StoreError(f"{name}: has lost its key; restore it from a backup")
    if secret.recovery_key is not None:
        if RECOVERY not in slots:
            raise WrongKeyError(f"{name}: no recovery key was ever made for it")
        return open_slot(RECOVERY, slots[RECOVERY], read_recovery_key(secret.recovery_key))
    if secret.passphrase is None:
        raise LockedError(f"{name}: is locked; give its passphrase: {HOW}")
    if PASSPHRASE not in slots:
        raise WrongKeyError(f"{name}: has lost its passphrase; use the recovery key")
    return open_slot(PASSPHRASE, slots[PASSPHRASE], secret.passphrase)


def _forget_plain(file: Base, before: Path) -> None:
    """Take away what lay open in a store of the time before, once the sealed one is whole."""
    faults = verify(file)
    if faults:
        said = "sealing the older store failed"
        raise StoreError(f"{said} ({faults[0]}); it lies as it was in {before}")
    with file.reading() as connection:
        wanted = set(connection.scalars(select(tables.photo_index.c.photo_id)))
        left = [name for name in file.blobs.ids(connection) if name not in wanted]
    with file.writing() as connection:
        for name in left:
            file.blobs.remove(connection, name)
    database.write_anew(file.engine)
    before.unlink()  # last: while it is there, all this is done again
