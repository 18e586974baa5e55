"""What was done, as a person reads it: the chain's entries of one client."""

from __future__ import annotations

from sqlalchemy import select

from rimspan.clientfile import chain, tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.chain import Head
from rimspan.clientfile.moments import utc
from rimspan.clientfile.records import Event


class History:
    """The entries of a client file's chain."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def head(self) -> Head:
        """Return the newest entry's number and mark."""
        with self._file.reading() as connection:
            return chain.head(connection)

    def of(self, client_id: str) -> list[Event]:
        """Return what was done with a client's file, the first first."""
        entry = tables.chain
        wanted = select(entry).where(entry.c.client_id == client_id).order_by(entry.c.seq)
        with self._file.reading() as connection:
            rows = connection.execute(wanted).all()
        return [
            Event(utc(row.at), row.kind, row.record or "", chain.detail_of(self._file.ring, row))
            for row in rows
        ]

    def holds(self, head: Head) -> bool:
        """Return whether the chain still holds an entry that once was its newest."""
        if head.seq == 0:
            return True
        wanted = select(tables.chain.c.mac).where(tables.chain.c.seq == head.seq)
        with self._file.reading() as connection:
            return connection.scalar(wanted) == head.mac
