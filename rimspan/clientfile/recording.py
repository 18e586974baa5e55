"""Records beside the assessments: of a client, and of the studio; never changed, only followed.

An insertion, a visit or an outcome is a client's, stock and criteria are the studio's; the kinds
stand in :mod:`.record_kinds`.  Each record is sealed (a client's by the client's key, so it goes
with them), numbered for each client and kind, and stands in the chain::

    made = file.add_record(NewRecord("visit", by, {"healed": "yes"}, client_id, photos), token)
    file.records("visit", client_id)          # the newest first
    file.newest_record("stock")               # of the studio: no client

The token makes it idempotent: make one when a page is shown, hand over the same at every try.  What
is made from the newest record (a count of stock) says so by ``after``, its number, 0 where there
was none; whoever was overtaken looks again.  Several that belong together (an insertion and the
stock after it) go in by :meth:`Recording.add_records`, all or none.  A record is corrected by a
further one that says so.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select
from sqlalchemy.exc import IntegrityError

from rimspan.clientfile import tables
from rimspan.clientfile.base import TRIES, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.errors import OvertakenError, RefusedError, UnknownError
from rimspan.clientfile.photos import Photos
from rimspan.clientfile.record_kinds import checked
from rimspan.clientfile.record_rows import Record, of_client, opened_record, place_of, table_of
from rimspan.clientfile.seal import Seal


@dataclass(frozen=True, slots=True)
class NewRecord:
    """A record about to be kept.

    ``client_id`` is None for one of the studio; ``photos`` are hashes of photos in the client's
    file that belong to it and therefore aren't moved away; ``after`` is the number of the record
    of this kind that must be the newest still, if that matters.
    """

    kind: str
    by: str
    document: Mapping[str, Any]
    client_id: str | None = None
    photos: tuple[str, ...] = ()
    after: int | None = None


class Recording(Photos):
    """The records of a file."""

    def add_record(
        self, new: NewRecord, token: str, *, created_at: datetime | None = None
    ) -> Record:
        """Return the kept record; the same token again returns the one that is there.

        Parameters
        ----------
        created_at : when it was kept elsewhere, for one that is brought here

        Raises
        ------
        UnknownError
            If there is no such client, or a photo isn't theirs.
        RefusedError
            If there is no such kind, nobody made it, or the client is a walk-in that isn't kept.
        OvertakenError
            If another record came after the one that this was made from.
        """
        return self.add_records([new], token, created_at=created_at)[0]

    def add_records(
        self, new: Sequence[NewRecord], token: str, *, created_at: datetime | None = None
    ) -> list[Record]:
        """Return records that are kept together or not at all; see :meth:`add_record`."""
        for each in new:
            checked(each.kind, "studio" if each.client_id is None else "client", each.document)
            if not each.by.strip():
                raise RefusedError(f"a record of kind {each.kind} isn't kept without a name")
        tokens = [f"{token} {at}" if at else token for at in range(len(new))]
        for _ in range(TRIES):
            try:
                with self.writing() as connection:
                    return [
                        self._recorded(connection, each, own)
                        or self._record(connection, each, own, created_at)
                        for own, each in zip(tokens, new, strict=True)
                    ]
            except IntegrityError:  # another chair took the number or saved this token
                continue
        raise RuntimeError("no free number for a record was found")

    def _sealing(self, connection: Connection, client: str | None) -> Seal:
        return self.ring.studio if client is None else self.seal_of(connection, client)

    def _recorded(self, connection: Connection, new: NewRecord, token: str) -> Record | None:
        table = table_of(new.client_id)
        row = connection.execute(select(table).where(table.c.token == token)).first()
        if row is None:
            return None
        known = opened_record(self._sealing(connection, of_client(row)), row)
        if (known.client_id, known.kind) != (new.client_id, new.kind):
            raise RefusedError("this token stands for another record; load the page again")
        return known

    def _record(
        self, connection: Connection, new: NewRecord, token: str, created_at: datetime | None
    ) -> Record:
        client, by = new.client_id, new.by.strip()
        number = self._free_number(connection, new, created_at)
        made = Record(
            str(uuid.uuid4()),
            client,
            new.kind,
            number,
            created_at or self.clock(),
            by,
            new.document,
            new.photos,
        )
        held = {"by": by, "photos": list(new.photos), "held": dict(new.document)}
        seal, where = (
            self._sealing(connection, client),
            place_of(client, made.kind, made.id, number),
        )
        values: dict[str, Any] = {
            "id": made.id,
            "kind": made.kind,
            "number": number,
            "token": token,
            "document": seal.close(where, canonical(held)),
            "created_at": made.created_at,
        }
        whose = {} if client is None else {"client_id": client}
        detail = {"by": by, "kind": made.kind, "number": number}
        entry = Entry("studio" if client is None else "record", client, made.id, detail=detail)
        self.keep(connection, table_of(client), values | whose, entry)
        return made

    def _free_number(
        self, connection: Connection, new: NewRecord, created_at: datetime | None
    ) -> int:
        table, client = table_of(new.client_id), new.client_id
        wanted = select(func.coalesce(func.max(table.c.number), 0)).where(table.c.kind == new.kind)
        if client is not None:
            self.hold(connection, client)
            if client in self.passing and created_at is None:
                raise RefusedError("nothing is recorded of a walk-in; keep the client first")
            wanted = wanted.where(table.c.client_id == client)
        newest = int(connection.scalar(wanted) or 0)
        if new.after is not None and new.after != newest:
            raise OvertakenError("another chair recorded something meanwhile; look again")
        for digest in new.photos:
            if client is None or not self._listed(connection, client, None, digest):
                raise UnknownError(f"photo {digest[:12]}: is not in this client's file")
        return newest + 1

    def known_record(self, new: NewRecord, token: str) -> Record | None:
        """Return the record that was kept under a token; None if none was so far."""
        with self.reading() as connection:
            return self._recorded(connection, new, token)

    def records(self, kind: str, client_id: str | None = None) -> list[Record]:
        """Return the records of a kind, of a client or of the studio, the newest first."""
        return self._records(kind, client_id, None)

    def newest_record(self, kind: str, client_id: str | None = None) -> Record | None:
        """Return the newest record of a kind, of a client or of the studio."""
        found = self._records(kind, client_id, 1)
        return found[0] if found else None

    def _records(self, kind: str, client: str | None, most: int | None) -> list[Record]:
        table = table_of(client)
        wanted = select(table).where(table.c.kind == kind).order_by(table.c.number.desc())
        if client is not None:
            wanted = wanted.where(table.c.client_id == client)
        with self.reading() as connection:
            rows = connection.execute(wanted.limit(most)).all()
            seal = self._sealing(connection, client) if rows else None
        return [opened_record(seal, row) for row in rows] if seal else []

    def records_of_all(self, kind: str) -> list[Record]:
        """Return the records of a kind of all clients that aren't erased, the newest first."""
        table, key = tables.client_record, tables.client_key
        wanted = (
            select(table, key.c.wrapped)
            .join(key, key.c.client_id == table.c.client_id)
            .where(table.c.kind == kind)
            .order_by(table.c.created_at.desc(), table.c.number.desc())
        )
        with self.reading() as connection:
            rows = connection.execute(wanted).all()
        found = []
        for row in rows:
            data_key = self.ring.data_key(row.client_id, row.wrapped)
            found.append(opened_record(self.ring.of_client(row.client_id, data_key), row))
        return found
