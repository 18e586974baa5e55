"""Opening every sealed value and photo, to prove that it opens and is what it says."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Row, Select, select

from rimspan.clientfile import tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.drafts import draft_place
from rimspan.clientfile.errors import DamagedError
from rimspan.clientfile.keys import slot_parts
from rimspan.clientfile.people import person_place
from rimspan.clientfile.photos import blob_place, photo_document
from rimspan.clientfile.record_rows import opened_record
from rimspan.clientfile.repeats import opened_mark
from rimspan.clientfile.revisions import revision_place, void_place
from rimspan.clientfile.seal import Seal, place
from rimspan.clientfile.settings import setting_place

BATCH = 100
Opens = Callable[[Seal, Row[Any]], object]


def values_of(file: Base, connection: Connection) -> Iterator[str]:
    """Yield a line for each value or photo that doesn't open, or isn't what it says."""
    looking = _Looking(file, connection)
    yield from looking.keys()
    for part in (looking.names, looking.photos, looking.revisions, looking.rest, looking.records):
        yield from part()
    yield from looking.studio()


@dataclass
class _Looking:
    file: Base
    connection: Connection
    seals: dict[str, Seal] = field(default_factory=dict)
    damaged: set[str] = field(default_factory=set)

    def _rows(self, wanted: Select[Any]) -> Iterator[Row[Any]]:
        yield from self.connection.execute(wanted.execution_options(yield_per=BATCH))

    def keys(self) -> Iterator[str]:
        """Open each client's key; whoever was erased, or let go, must have none."""
        gone = set(self.connection.scalars(select(tables.erased.c.client_id)))
        for row in self._rows(select(tables.client_key)):
            if row.client_id in gone:
                yield f"client {row.client_id}: was erased, but its key is there"
            try:
                data_key = self.file.ring.data_key(row.client_id, row.wrapped)
            except DamagedError as error:
                self.damaged.add(row.client_id)
                yield f"client {row.client_id}: its key: {error}"
                continue
            self.seals[row.client_id] = self.file.ring.of_client(row.client_id, data_key)
        for client, data_key in list(self.file.passing.items()):
            self.seals[client] = self.file.ring.of_client(client, data_key)
        named = select(tables.client_name.c.client_id).distinct()
        for client in self.connection.scalars(named):
            if client not in self.seals and client not in self.damaged | gone:
                yield f"client {client}: its key is gone, and nothing says that it was erased"

    def _opened(
        self, wanted: Select[Any], said: Callable[[Row[Any]], str], opens: Opens
    ) -> Iterator[str]:
        """Open a value of each row whose client's key is there."""
        for row in self._rows(wanted):
            seal = self.seals.get(row.client_id)
            if seal is None:
                continue
            try:
                opens(seal, row)
            except DamagedError as error:
                yield f"{said(row)}: {error}"

    def names(self) -> Iterator[str]:
        """Open every name and note."""

        def both(seal: Seal, row: Row[Any]) -> None:
            for column, kept in (("name", row.name), ("note", row.note)):
                seal.open(place("client_name", column, row.client_id, row.version), kept)

        table = tables.client_name
        yield from self._opened(select(table), lambda row: f"client {row.client_id}", both)

    def photos(self) -> Iterator[str]:
        """Open every photo that is listed, and compare its bytes with its hash."""
        photo, index = tables.photo, tables.photo_index
        yield from self._opened(
            select(photo), lambda row: f"photo {row.id} of client {row.client_id}", photo_document
        )
        yield from self._unlisted()
        listed = (index.c.side.label("listed_side"), index.c.client_id.label("listed_client"))
        for row in self._rows(select(photo, index.c.tag, *listed).join(index)):
            seal = self.seals.get(row.client_id)
            said = f"photo {row.id} of client {row.client_id}"
            if seal is None:
                if row.client_id not in self.damaged:
                    yield from self._keyless(said, row)
                continue
            try:
                digest = photo_document(seal, row)["sha256"]
            except DamagedError:
                continue  # said above
            if (row.listed_side, row.listed_client) != (row.side, row.client_id):
                yield f"{said}: is listed under another ear or client"
            if row.tag != self.file.ring.tag("photo", digest):
                yield f"{said}: is listed under another photo's tag"
            yield from self._bytes(said, seal, row, digest)

    def _unlisted(self) -> Iterator[str]:
        """Find photos that went without being moved, or their client being erased."""
        photo, index, entry = tables.photo, tables.photo_index, tables.chain
        moved = select(entry.c.record).where(entry.c.kind == "move")
        wanted = (
            select(photo.c.id, photo.c.client_id)
            .outerjoin(index)
            .outerjoin(tables.erased, tables.erased.c.client_id == photo.c.client_id)
            .where(index.c.photo_id.is_(None), tables.erased.c.client_id.is_(None))
            .where(photo.c.id.not_in(moved))
        )
        for row in self._rows(wanted):
            said = "is listed no more, and nobody moved it"
            yield f"photo {row.id} of client {row.client_id}: {said}"

    def _keyless(self, said: str, row: Row[Any]) -> Iterator[str]:
        # A walk-in of another process is as it should be; an erased client's photo isn't.
        erased = tables.erased.c.client_id
        wanted = select(erased).where(erased == row.client_id)
        if self.connection.scalar(wanted) is not None:
            yield f"{said}: is listed still, though the client was erased"

    def _bytes(self, said: str, seal: Seal, row: Row[Any], digest: str) -> Iterator[str]:
        kept = self.file.blobs.get(self.connection, row.id)
        if kept is None:
            yield f"{said}: its bytes are gone"
            return
        try:
            plain = seal.open(blob_place(row.client_id, row.id), kept)
        except DamagedError:
            yield f"{said}: its bytes are damaged"
            return
        if sha256(plain).hexdigest() != digest:
            yield f"{said}: its bytes are another photo's"

    def revisions(self) -> Iterator[str]:
        """Open every revision, and compare its photos with those it is linked to."""

        def saved(seal: Seal, row: Row[Any]) -> None:
            plain = seal.open(revision_place(row.client_id, row.id, row.number), row.document)
            expected = list(json.loads(plain)["photos"].values())
            if self._linked(seal, row) != expected:
                raise DamagedError("is linked to other photos than it was measured in")

        def said(row: Row[Any]) -> str:
            return f"revision {row.number} of client {row.client_id}"

        yield from self._opened(select(tables.revision), said, saved)

    def _linked(self, seal: Seal, row: Row[Any]) -> list[str]:
        link = tables.revision_photo
        wanted = (
            select(tables.photo)
            .join(link, link.c.photo_id == tables.photo.c.id)
            .where(link.c.revision_id == row.id)
            .order_by(link.c.position)
        )
        return [photo_document(seal, photo)["sha256"] for photo in self.connection.execute(wanted)]

    def rest(self) -> Iterator[str]:
        """Open every draft, consent and void."""

        def draft(seal: Seal, row: Row[Any]) -> None:
            seal.open(draft_place(row.client_id, row.side, row.rev), row.document)

        def consent(seal: Seal, row: Row[Any]) -> None:
            seal.open(place("consent", "document", row.client_id, row.id), row.document)

        def void(seal: Seal, row: Row[Any]) -> None:
            seal.open(void_place(row.client_id, row.revision_id), row.document)

        for table, opens in ((tables.draft, draft), (tables.consent, consent), (tables.void, void)):
            yield from self._opened(select(table), partial(_of_client, table.name), opens)

    def records(self) -> Iterator[str]:
        """Open every record of a client, and look for the photos that belong to it."""

        def kept(seal: Seal, row: Row[Any]) -> None:
            index = tables.photo_index
            for digest in opened_record(seal, row).photos:
                tag = self.file.ring.tag("photo", digest)
                wanted = select(index.c.photo_id).where(
                    index.c.client_id == row.client_id, index.c.tag == tag
                )
                if self.connection.scalar(wanted.limit(1)) is None:
                    raise DamagedError("a photo that belongs to it is gone")

        def said(row: Row[Any]) -> str:
            return f"record {row.kind} {row.number} of client {row.client_id}"

        yield from self._opened(select(tables.client_record), said, kept)

    def studio(self) -> Iterator[str]:
        """Open every value that is of no client."""
        studio = self.file.ring.studio

        def slot(row: Row[Any]) -> None:
            slot_parts(row.kind, row.document)

        def person(row: Row[Any]) -> None:
            studio.open(person_place(row.id, row.version), row.document)

        def setting(row: Row[Any]) -> None:
            studio.open(setting_place(row.name, row.version), row.document)

        def record(row: Row[Any]) -> None:
            opened_record(studio, row)

        def mark(row: Row[Any]) -> None:
            opened_mark(studio, row)

        for table, opens in (
            (tables.key_slot, slot),
            (tables.person, person),
            (tables.setting, setting),
            (tables.studio_record, record),
            (tables.repeat_mark, mark),
        ):
            for row in self._rows(select(table)):
                try:
                    opens(row)
                except DamagedError as error:
                    yield f"{table.name}: {error}"


def _of_client(what: str, row: Row[Any]) -> str:
    return f"{what} of client {row.client_id}"
