"""Sealing a store of the time before there were keys: schemas 0001 and 0002, demo data only.

A part of migration 0003: a later change of the tables leaves this to write those of 0003.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, text

from rimspan.clientfile import chain, tables
from rimspan.clientfile.base import canonical
from rimspan.clientfile.blobs import Blobs, FolderBlobs
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.drafts import draft_place
from rimspan.clientfile.errors import DamagedError
from rimspan.clientfile.keys import KeyRing, new_data_key
from rimspan.clientfile.moments import utc
from rimspan.clientfile.photos import blob_place, document_place
from rimspan.clientfile.repeats import mark_place, photo_tag
from rimspan.clientfile.revisions import revision_place
from rimspan.clientfile.seal import Seal, place, unmarked

Rows = dict[str, list[dict[str, Any]]]
READ = ("client", "photo", "draft", "revision", "repeat_photo", "repeat_mark")


def read_older(connection: Connection) -> Rows:
    """Return the rows of an older store's tables; its photos stay where they are."""
    older = MetaData()
    older.reflect(connection, only=READ)
    return {
        name: [dict(row._mapping) for row in connection.execute(older.tables[name].select())]
        for name in READ
    }


def seal_older(connection: Connection, older: Rows, ring: KeyRing, blobs: Blobs) -> None:
    """Put an older store's rows into the new tables, sealed, under the ids that they had."""
    if any(older.values()):
        _Sealing(connection, ring, blobs).all(older)


@dataclass(frozen=True)
class _Sealing:
    connection: Connection
    ring: KeyRing
    blobs: Blobs

    def all(self, older: Rows) -> None:
        seals = {row["id"]: self._client(row) for row in older["client"]}
        photos = {}
        for row in older["photo"]:
            photos[row["client_id"], row["sha256"]] = self._photo(row, seals[row["client_id"]])
        for row in sorted(older["revision"], key=lambda held: str(held["created_at"])):
            self._revision(row, seals[row["client_id"]], photos)
        for row in older["draft"]:
            where = draft_place(row["client_id"], row["side"], row["rev"])
            closed = seals[row["client_id"]].close(where, unmarked(row["document"]))
            self._put(tables.draft, row | {"document": closed})
        self._repeats(older)

    def _put(self, table: Table, row: Mapping[str, Any]) -> None:
        self.connection.execute(table.insert().values(**row))

    def _keep(self, table: Table, row: Mapping[str, Any], entry: Entry) -> None:
        chain.kept_row(self.connection, self.ring, table, row, entry, datetime.now(UTC))

    def _client(self, row: Mapping[str, Any]) -> Seal:
        client, data_key, at = row["id"], new_data_key(), utc(row["created_at"])
        seal = self.ring.of_client(client, data_key)
        made = {"id": client, "created_at": at}
        self._keep(tables.client, made, Entry("client", client, client))
        wrapped = self.ring.wrap(client, data_key)
        self._put(tables.client_key, {"client_id": client, "wrapped": wrapped})
        sealed = {
            column: seal.close(place("client_name", column, client, 1), unmarked(row[column]))
            for column in ("name", "note")
        }
        named = {"client_id": client, "version": 1, "at": at, **sealed}
        self._keep(tables.client_name, named, Entry("name", client, f"{client}/1"))
        return seal

    def _photo(self, row: Mapping[str, Any], seal: Seal) -> str:
        client, photo, digest = row["client_id"], row["id"], row["sha256"]
        plain = self._bytes(digest)
        self.blobs.put(self.connection, photo, seal.close(blob_place(client, photo), plain))
        filename = unmarked(row["filename"]).decode()
        document = {"sha256": digest, "filename": filename, "size": len(plain), "by": ""}
        where = document_place(client, photo, row["side"])
        made = {
            "id": photo,
            "client_id": client,
            "side": row["side"],
            "document": seal.close(where, canonical(document)),
            "at": datetime.now(UTC),
        }
        self._keep(tables.photo, made, Entry("photo", client, photo))
        tag = self.ring.tag("photo", digest)
        listed = {"photo_id": photo, "client_id": client, "side": row["side"], "tag": tag}
        self._put(tables.photo_index, listed)
        return str(photo)

    def _bytes(self, digest: str) -> bytes:
        """Return a photo's bytes from where they lay under their hash."""
        if isinstance(self.blobs, FolderBlobs):
            path: Path = self.blobs.folder / digest[:2] / digest
            kept = path.read_bytes() if path.is_file() else None
        else:
            wanted = text("SELECT data FROM blob WHERE sha256 = :digest")
            kept = self.connection.scalar(wanted, {"digest": digest})
        plain = unmarked(bytes(kept)) if kept is not None else b""
        if sha256(plain).hexdigest() != digest:
            said = "is gone or damaged in the older store"
            raise DamagedError(f"photo {digest[:12]}: {said}; take a copy in which it is whole")
        return plain

    def _revision(
        self, row: Mapping[str, Any], seal: Seal, photos: Mapping[tuple[str, str], str]
    ) -> None:
        client, revision = row["client_id"], row["id"]
        plain = unmarked(row["document"])
        closed = seal.close(revision_place(client, revision, row["number"]), plain)
        made = {**row, "document": closed, "created_at": utc(row["created_at"])}
        self._keep(tables.revision, made, Entry("revision", client, revision))
        for position, digest in enumerate(json.loads(plain)["photos"].values()):
            photo = photos.get((client, digest))
            if photo is None:
                said = f"its photo {digest[:12]} is not in the older store"
                raise DamagedError(f"revision {row['number']}: {said}; take a copy that is whole")
            link = {"position": position, "photo_id": photo}
            self._put(tables.revision_photo, {"revision_id": revision, **link})

    def _repeats(self, older: Rows) -> None:
        for row in older["repeat_photo"]:
            tag = photo_tag(self.ring, row["client_id"], row["sha256"])
            made = {"id": row["id"], "client_id": row["client_id"], "tag": tag}
            self._put(tables.repeat_photo, made)
        for row in older["repeat_mark"]:
            closed = self.ring.studio.close(mark_place(row["id"]), unmarked(row["document"]))
            saved_at = utc(row["saved_at"])
            self._put(tables.repeat_mark, row | {"document": closed, "saved_at": saved_at})
