"""Erasing a client: the key is destroyed, an anonymous tombstone stays."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import datetime, timedelta

from sqlalchemy import Connection, bindparam, delete, func, select

from rimspan.clientfile import tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.clients import Clients
from rimspan.clientfile.database import flush
from rimspan.clientfile.errors import DamagedError, StoreError, UnknownError
from rimspan.clientfile.moments import utc
from rimspan.clientfile.recording import Recording
from rimspan.clientfile.records import Client
from rimspan.clientfile.repeats import Repeats
from rimspan.clientfile.revisions import Revisions
from rimspan.clientfile.settings import Settings

ERASED, LET_GO = "erased", "let go"

Gone = Callable[[Iterable[str]], None]
"""Is told the hashes of photos that are gone, to forget what it holds of them."""


class Erasing(Clients, Revisions, Recording):
    """Taking clients out of a file."""

    when_gone: list[Gone]

    @property
    def repeats(self) -> Repeats:
        """Return the marks that piercers repeated."""
        return Repeats(self)

    @property
    def settings(self) -> Settings:
        """Return what the studio set."""
        return Settings(self)

    def erase_client(self, client_id: str, by: str = "") -> None:
        """Make everything of a client unreadable for good.

        Their data key is destroyed.  Sealed revisions stay where they are, so that the chain and
        the backups stay whole; drafts and photos go.  What is left of the client is a random
        number, and when it was erased.

        Raises
        ------
        UnknownError
            If there is none of that id, or it was erased before.
        """
        digests = self._digests(client_id)
        with self.writing() as connection:
            if not destroy(self, connection, client_id, ERASED, by):
                raise UnknownError(f"client {client_id}: is not in this file, or was erased")
        self._after(digests)

    def let_go(self, walk_in: str, by: str = "") -> None:
        """Let one walk-in go, whom nobody wants kept."""
        if walk_in not in self.passing:
            raise UnknownError(f"client {walk_in}: is no walk-in here")
        with self.writing() as connection:
            destroy(self, connection, walk_in, LET_GO, by)
        self._after([])

    def let_walk_ins_go(self, before: timedelta = timedelta(0), by: str = "") -> int:
        """Return how many walk-ins were let go: those that nobody kept and that began long ago.

        Parameters
        ----------
        before : how long ago they must have begun
        """
        until = self.clock() - before
        with self.writing() as connection:
            found = (
                row
                for client in _leaving(connection)
                for row in connection.execute(tables.walk_ins().where(tables.client.c.id == client))
            )
            old = [row.id for row in found if utc(row.created_at) <= until]
            done = sum(destroy(self, connection, client, LET_GO, by) for client in old)
        self._after([])
        return done

    def _digests(self, client_id: str) -> list[str]:
        try:
            return [photo.sha256 for photo in self.photos(client_id)]
        except (UnknownError, DamagedError):  # nothing that anybody could hold
            return []

    def _after(self, digests: Iterable[str]) -> None:
        """Take away what the transaction left outside of the tables, and an earlier one too."""
        with self.writing() as connection:
            gone = [client for client in _leaving(connection) if _is_gone(connection, client)]
            for client in gone:
                photo = tables.photo.c
                wanted = select(photo.id).where(photo.client_id == client)
                for left in connection.scalars(wanted).all():
                    self.blobs.remove(connection, left)
        if gone:  # else another program has done it, or there was nothing to do
            flush(self.engine)
            # Last: while they stand there it is done again, so a full disk is no matter here.
            with suppress(StoreError), self.writing() as connection:
                leaving = tables.leaving
                done = delete(leaving).where(leaving.c.client_id == bindparam("gone"))
                connection.execute(done, [{"gone": client} for client in gone])
        for forget in self.when_gone:
            forget(digests)

    def tombstones(self) -> dict[str, datetime]:
        """Return who was erased, by id, and when."""
        with self.reading() as connection:
            return tombstones(connection)

    # Retention

    def retention_days(self) -> int | None:
        """Return for how long the studio keeps a client after the last entry, or None: for ever."""
        days = self.settings.get("retention").get("days")
        return None if days is None else int(days)

    def set_retention(self, days: int | None, by: str = "") -> None:
        """Set for how long a client is kept.  How long that must or may be, local law decides."""
        self.settings.set("retention", {"days": days}, by)

    def due(self) -> list[Client]:
        """Return the clients for whom nothing was kept for longer than the studio wants."""
        days = self.retention_days()
        if days is None:
            return []
        until = self.clock() - timedelta(days=days)
        entry = tables.chain.c
        wanted = select(entry.client_id, func.max(entry.at).label("at")).group_by(entry.client_id)
        with self.reading() as connection:
            last = {row.client_id: utc(row.at) for row in connection.execute(wanted)}
        return [client for client in self.clients() if last[client.id] < until]


def destroy(file: Base, connection: Connection, client: str, kind: str, by: str) -> bool:
    """Destroy a client's key, leave the tombstone, and return whether there was anything to do."""
    row = select(tables.client.c.id).where(tables.client.c.id == client).with_for_update()
    if connection.scalar(row) is None:
        return False
    if _is_gone(connection, client):
        return False
    Repeats(file).unlink(client, connection)
    for table in (tables.client_key, tables.photo_index, tables.draft, tables.leaving):
        connection.execute(delete(table).where(table.c.client_id == client))
    connection.execute(tables.leaving.insert().values(client_id=client))
    file.passing.pop(client, None)
    values = {"client_id": client, "kind": kind, "at": file.clock()}
    file.keep(connection, tables.erased, values, Entry("erased", client, client, detail={"by": by}))
    return True


def tombstones(connection: Connection) -> dict[str, datetime]:
    """Return who was erased, by id, and when; walk-ins that were let go are no client's wish."""
    erased = tables.erased.c
    rows = connection.execute(select(erased.client_id, erased.at).where(erased.kind == ERASED))
    return {row.client_id: utc(row.at) for row in rows}


def _leaving(connection: Connection) -> list[str]:
    """Return the few clients of whom something has to go; each is then looked up by itself.

    A join would leave it to the engine whether to read all clients.
    """
    return list(connection.scalars(select(tables.leaving.c.client_id)))


def _is_gone(connection: Connection, client: str) -> bool:
    gone = select(tables.erased.c.client_id).where(tables.erased.c.client_id == client)
    return connection.scalar(gone) is not None
