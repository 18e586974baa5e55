"""What every part of the client file works with: the engine, the keys, the clock, the chain."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Engine, Table, select
from sqlalchemy.exc import DatabaseError, IntegrityError, OperationalError

from rimspan.clientfile import chain, tables
from rimspan.clientfile.blobs import Blobs
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.database import reading
from rimspan.clientfile.errors import DamagedError, StoreError, UnknownError
from rimspan.clientfile.keys import KeyRing
from rimspan.clientfile.moments import utc
from rimspan.clientfile.seal import Seal

Clock = Callable[[], datetime]
"""Tells the time, with its zone."""

TRIES = 20
"""How often it is tried anew when several chairs take the same number at once."""


def canonical(document: Mapping[str, Any]) -> bytes:
    """Return a document's one JSON form."""
    return json.dumps(
        document, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    ).encode()


def now() -> datetime:
    """Return the time."""
    return datetime.now(UTC)


class Base:
    """An open store.

    Parameters
    ----------
    engine, blobs, ring : where it lies, and its keys
    clock : tells the time
    """

    def __init__(self, engine: Engine, blobs: Blobs, ring: KeyRing, clock: Clock = now) -> None:
        self.engine, self.blobs, self.ring, self.clock = engine, blobs, ring, clock
        self.passing: dict[str, bytes] = {}
        """Data keys of walk-ins that nobody wanted kept so far: nowhere else, gone with this."""

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Yield a connection whose changes are kept all together at the end, or not at all.

        Raises
        ------
        StoreError
            If they can't be written.
        """
        try:
            with self.engine.begin() as connection:
                yield connection
        except IntegrityError:
            raise
        except OperationalError as error:
            raise _unwritten(str(error.orig).splitlines()[0]) from None
        except DatabaseError as error:
            raise _damaged(error) from None
        except OSError as error:
            raise _unwritten(error.strerror or type(error).__name__) from None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Yield a connection on the store as it is at one moment."""
        try:
            with reading(self.engine) as connection:
                yield connection
        except OperationalError as error:
            said = str(error.orig).splitlines()[0]
            raise StoreError(f"the client file can't be read ({said}); check the store") from None
        except DatabaseError as error:
            raise _damaged(error) from None

    def hold(self, connection: Connection, client: str) -> None:
        """Hold a client's row until the transaction ends, so that nobody erases it meanwhile.

        Raises
        ------
        UnknownError
            If there is no such client.
        """
        wanted = select(tables.client.c.id).where(tables.client.c.id == client)
        # A server's row lock; the embedded store has one writer at a time anyway.
        if connection.scalar(wanted.with_for_update(key_share=True)) is None:
            raise _unknown(client)

    def seal_of(self, connection: Connection, client: str) -> Seal:
        """Return what seals a client's values.

        Raises
        ------
        UnknownError
            If there is no such client, or it was erased.
        DamagedError
            If its key is gone and nothing says that it was erased.
        """
        return self.ring.of_client(client, self._data_key(connection, client))

    def _data_key(self, connection: Connection, client: str) -> bytes:
        key, gone = tables.client_key, tables.erased
        row = connection.execute(
            select(tables.client.c.id, key.c.wrapped, gone.c.at)
            .select_from(tables.client.outerjoin(key).outerjoin(gone))
            .where(tables.client.c.id == client)
        ).first()
        if row is None:
            raise _unknown(client)
        if row.at is not None:
            day = f"{utc(row.at):%Y-%m-%d}"
            raise UnknownError(f"client {client}: was erased on {day}; nothing of it can be read")
        if client in self.passing:
            return self.passing[client]
        if row.wrapped is None:
            named = connection.scalar(
                select(tables.client_name.c.version).where(tables.client_name.c.client_id == client)
            )
            if named is None:
                raise UnknownError(f"client {client}: a walk-in that nobody kept; begin anew")
            raise DamagedError(f"client {client}: its key is gone; restore it from a backup")
        return self.ring.data_key(client, row.wrapped)

    def keep(
        self, connection: Connection, table: Table, values: Mapping[str, Any], entry: Entry
    ) -> None:
        """Insert a row that never changes, and its entry in the chain."""
        chain.kept_row(connection, self.ring, table, values, entry, self.clock())

    def note(self, connection: Connection, entry: Entry) -> None:
        """Add an entry to the chain that stands for no row of its own."""
        chain.append(connection, self.ring, self.clock(), entry)


def _unknown(client: str) -> UnknownError:
    return UnknownError(f"client {client}: is not in this file; open another store?")


def _unwritten(said: str) -> StoreError:
    return StoreError(
        f"the client file can't be written ({said}); nothing of this was kept, make room and "
        "do it again"
    )


def _damaged(error: DatabaseError) -> DamagedError:
    said = str(error.orig).splitlines()[0]
    return DamagedError(f"the database itself is damaged ({said}); restore it from a backup")
