"""Clients: made, named, found, and walk-ins that aren't kept until somebody wants them."""

from __future__ import annotations

import threading
import uuid

from sqlalchemy import Connection, Row, func, select

from rimspan.clientfile import chain, tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.errors import DamagedError, RefusedError, UnknownError
from rimspan.clientfile.keys import new_data_key
from rimspan.clientfile.moments import utc
from rimspan.clientfile.records import Client
from rimspan.clientfile.seal import place

NAMING = ("name", "erased")
"""The kinds of entries in the chain after which a client has another name, or none."""


class Names:
    """The clients' names in memory, read anew where the chain says that one changed.

    There is no index of names on disk, so none can leak: which letters names hold, or that two
    are alike.  The price is to open every name once after the program's start.
    """

    def __init__(self) -> None:
        self._held: dict[str, Client] = {}
        self._listed: list[tuple[str, Client]] = []
        self._seen = 0
        self._reading = threading.Lock()

    def holding(self, file: Clients, wanted: str) -> list[Client]:
        """Return the clients whose name holds some letters, as they are now, by name.

        Parameters
        ----------
        wanted : casefolded
        """
        with self._reading, file.reading() as connection:
            newest = chain.head(connection).seq
            if newest != self._seen:
                self._renew(file, connection)
                self._seen = newest
            listed = self._listed  # made anew at every change, never changed
        return [client for name, client in listed if wanted in name]

    def _renew(self, file: Clients, connection: Connection) -> None:
        entry = tables.chain.c
        changed = None
        if self._seen:
            wanted = select(entry.client_id).where(entry.seq > self._seen, entry.kind.in_(NAMING))
            changed = set(connection.scalars(wanted))
            for client in changed:
                self._held.pop(client, None)
        for row in file.name_rows(connection, changed):
            try:
                self._held[row.client_id] = file.named(row)
            except DamagedError:  # one that can't be read must not hide all the others
                name = f"(damaged: client {row.client_id[:8]})"
                made = utc(row.created_at)
                self._held[row.client_id] = Client(row.client_id, name, "", made)
        if changed is None or changed:
            self._listed = sorted(
                ((each.name.casefold(), each) for each in self._held.values()),
                key=lambda pair: (pair[0], pair[1].created_at),
            )


class Clients(Base):
    """The clients of a file."""

    names: Names

    def create_client(self, name: str, note: str = "", by: str = "") -> Client:
        """Return a new client, with a data key of their own."""
        made = Client(str(uuid.uuid4()), name.strip(), note, self.clock())
        data_key = new_data_key()
        with self.writing() as connection:
            self._insert(connection, made, by)
            self._keep_key(connection, made.id, data_key)
            self._name(connection, made.id, made.name, note, by)
        return made

    def _insert(self, connection: Connection, made: Client, by: str) -> None:
        values = {"id": made.id, "created_at": made.created_at}
        entry = Entry("client", made.id, made.id, detail={"by": by})
        self.keep(connection, tables.client, values, entry)

    def _keep_key(self, connection: Connection, client: str, data_key: bytes) -> None:
        wrapped = self.ring.wrap(client, data_key)
        connection.execute(tables.client_key.insert().values(client_id=client, wrapped=wrapped))

    def _name(self, connection: Connection, client: str, name: str, note: str, by: str) -> None:
        table = tables.client_name
        newest = select(func.max(table.c.version)).where(table.c.client_id == client)
        version = int(connection.scalar(newest) or 0) + 1
        seal = self.seal_of(connection, client)
        values = {
            "client_id": client,
            "version": version,
            "name": seal.close(place("client_name", "name", client, version), name.encode()),
            "note": seal.close(place("client_name", "note", client, version), note.encode()),
            "at": self.clock(),
        }
        entry = Entry("name", client, f"{client}/{version}", detail={"by": by})
        self.keep(connection, table, values, entry)

    def rename_client(self, client_id: str, name: str, note: str, by: str = "") -> Client:
        """Give a client another name and note; the earlier ones stay in the file.

        Raises
        ------
        UnknownError
            If there is none of that id.
        RefusedError
            If it is a walk-in: keep it instead.
        """
        with self.writing() as connection:
            self.hold(connection, client_id)
            if client_id in self.passing:
                raise RefusedError(f"client {client_id}: is a walk-in; keep it under that name")
            self._name(connection, client_id, name.strip(), note, by)
        return self.client(client_id)

    def clients(self, search: str = "") -> list[Client]:
        """Return the clients whose name holds ``search``, by name; looked through in memory."""
        return self.names.holding(self, search.casefold().strip())

    def client(self, client_id: str) -> Client:
        """Return one client.

        Raises
        ------
        UnknownError
            If there is none of that id, or it was erased.
        """
        with self.reading() as connection:
            self.seal_of(connection, client_id)
            for row in self.name_rows(connection, {client_id}):
                return self.named(row)
            made = select(tables.client.c.created_at).where(tables.client.c.id == client_id)
            return Client(client_id, "", "", utc(connection.execute(made).scalar_one()))

    def name_rows(self, connection: Connection, clients: set[str] | None) -> list[Row[tuple[()]]]:
        """Return the newest name of each client with a key, or of some of them."""
        name, key = tables.client_name, tables.client_key
        versions = select(name.c.client_id, func.max(name.c.version).label("version"))
        if clients is not None:
            versions = versions.where(name.c.client_id.in_(clients))
        newest = versions.group_by(name.c.client_id).subquery()
        wanted = (
            select(name, key.c.wrapped, tables.client.c.created_at)
            .join(
                newest,
                (name.c.client_id == newest.c.client_id) & (name.c.version == newest.c.version),
            )
            .join(key, key.c.client_id == name.c.client_id)
            .join(tables.client, tables.client.c.id == name.c.client_id)
        )
        return list(connection.execute(wanted))

    def named(self, row: Row[tuple[()]]) -> Client:
        """Return the client that a row of :meth:`name_rows` is of.

        Raises
        ------
        DamagedError
            If it doesn't open.
        """
        client, version = row.client_id, row.version
        seal = self.ring.of_client(client, self.ring.data_key(client, row.wrapped))
        name, note = (
            seal.open(place("client_name", column, client, version), kept).decode()
            for column, kept in (("name", row.name), ("note", row.note))
        )
        return Client(client, name, note, utc(row.created_at))

    # Walk-ins

    def walk_in(self, by: str = "") -> Client:
        """Return a client without a name, whose data key is in this program's memory only.

        What comes of them is sealed like the rest; unless :meth:`keep_walk_in` keeps the key,
        nothing of it can be read once the program has ended.
        """
        made = Client(str(uuid.uuid4()), "", "", self.clock())
        with self.writing() as connection:
            self._insert(connection, made, by)
            connection.execute(tables.leaving.insert().values(client_id=made.id))
        self.passing[made.id] = new_data_key()
        return made

    def keep_walk_in(self, client_id: str, name: str, note: str = "", by: str = "") -> Client:
        """Return the walk-in as a client who is kept.

        Raises
        ------
        UnknownError
            If it is no walk-in of this program.
        """
        data_key = self.passing.get(client_id)
        if data_key is None:
            raise UnknownError(f"client {client_id}: is no walk-in here, or was let go")
        with self.writing() as connection:
            self.hold(connection, client_id)
            stays = tables.leaving.c.client_id == client_id
            connection.execute(tables.leaving.delete().where(stays))
            self._keep_key(connection, client_id, data_key)
            self._name(connection, client_id, name.strip(), note, by)
        self.passing.pop(client_id, None)
        return self.client(client_id)
