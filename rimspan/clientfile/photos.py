"""Photos: kept stripped and sealed, found by the hash of their bytes, moved with a trace."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Row, delete, select
from sqlalchemy.exc import IntegrityError

from calibration.photo import strip_photo
from rimspan.clientfile import tables
from rimspan.clientfile.base import TRIES, Base, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.consents import Consents
from rimspan.clientfile.errors import DamagedError, RefusedError, UnknownError
from rimspan.clientfile.record_rows import holding
from rimspan.clientfile.records import StoredPhoto
from rimspan.clientfile.seal import Seal, place


class Photos(Base):
    """The photos of a file."""

    @property
    def consents(self) -> Consents:
        """Return what clients allowed."""
        return Consents(self)

    def tag_of(self, digest: str) -> str:
        """Return what stands for a photo's hash in the index."""
        return self.ring.tag("photo", digest)

    def add_photo(
        self, client_id: str, data: bytes, filename: str, side: str, by: str = ""
    ) -> StoredPhoto:
        """Return the photo as kept: stripped of place, serials and thumbnails.

        Raises
        ------
        PhotoError
            If the bytes are no photo.
        RefusedError
            If the client withdrew their consent to photos.
        """
        plain = strip_photo(data)
        for _ in range(TRIES):
            try:
                with self.writing() as connection:
                    self.hold(connection, client_id)
                    self.consents.check(connection, client_id)
                    return self._added(connection, client_id, plain, filename, side, {"by": by})
            except IntegrityError:  # another chair keeps the same photo at this moment
                continue
        raise RuntimeError("the photo could not be kept beside another chair's")

    def _added(
        self,
        connection: Connection,
        client: str,
        plain: bytes,
        filename: str,
        side: str,
        more: Mapping[str, Any],
    ) -> StoredPhoto:
        digest = sha256(plain).hexdigest()
        held = self._listed(connection, client, side, digest)
        if held:
            return held[0]
        made = StoredPhoto(str(uuid.uuid4()), client, digest, filename, side, len(plain))
        seal = self.seal_of(connection, client)
        self.blobs.put(connection, made.id, seal.close(blob_place(client, made.id), plain))
        document = {"sha256": digest, "filename": filename, "size": made.size, **more}
        values = {
            "id": made.id,
            "client_id": client,
            "side": side,
            "document": seal.close(document_place(client, made.id, side), canonical(document)),
            "at": self.clock(),
        }
        index = {"photo_id": made.id, "client_id": client, "side": side, "tag": self.tag_of(digest)}
        entry = Entry("photo", client, made.id, detail={"by": more.get("by", "")})
        self.keep(connection, tables.photo, values, entry)
        connection.execute(tables.photo_index.insert().values(**index))
        return made

    def photos(self, client_id: str, side: str | None = None) -> list[StoredPhoto]:
        """Return a client's photos, the first kept first."""
        with self.reading() as connection:
            return self._listed(connection, client_id, side, None)

    def _listed(
        self, connection: Connection, client: str, side: str | None, digest: str | None
    ) -> list[StoredPhoto]:
        photo, index = tables.photo, tables.photo_index
        wanted = select(photo).join(index).where(photo.c.client_id == client)
        if side is not None:
            wanted = wanted.where(photo.c.side == side)
        if digest is not None:
            wanted = wanted.where(index.c.tag == self.tag_of(digest))
        rows = connection.execute(wanted.order_by(photo.c.at, photo.c.id)).all()
        if not rows:
            return []
        seal = self.seal_of(connection, client)
        return [stored(seal, row) for row in rows]

    def photo_bytes(self, digest: str) -> bytes:
        """Return a photo's bytes.

        Raises
        ------
        DamagedError
            If they are gone or changed.
        """
        index = tables.photo_index
        with self.reading() as connection:
            wanted = select(index).where(index.c.tag == self.tag_of(digest)).limit(1)
            row = connection.execute(wanted).first()
            if row is None:
                said = "its bytes are gone; restore them from a backup"
                raise DamagedError(f"photo {digest[:12]}: {said}")
            return self.blob_of(connection, row.client_id, row.photo_id, digest)

    def blob_of(self, connection: Connection, client: str, photo: str, digest: str) -> bytes:
        """Return the bytes of one client's photo by its id.

        Raises
        ------
        DamagedError
            If they are gone or have another hash.
        """
        kept = self.blobs.get(connection, photo)
        if kept is None:
            said = "its bytes are gone; restore them from a backup"
            raise DamagedError(f"photo {digest[:12]}: {said}")
        try:
            plain = self.seal_of(connection, client).open(blob_place(client, photo), kept)
        except DamagedError:
            plain = b""
        if sha256(plain).hexdigest() != digest:
            raise DamagedError(f"photo {digest[:12]}: is damaged; restore it from a backup")
        return plain

    def holds(self, digest: str) -> bool:
        """Return whether a photo is kept (still)."""
        index = tables.photo_index
        with self.reading() as connection:
            wanted = select(index.c.photo_id).where(index.c.tag == self.tag_of(digest)).limit(1)
            return connection.scalar(wanted) is not None

    def move_photo(self, photo_id: str, to_client: str, by: str, reason: str) -> StoredPhoto:
        """Return a photo that lay in the wrong client's file, as it lies in the right one's.

        It is sealed anew by the right client's key; the wrong one keeps nothing but that a photo
        was there and went.  Whence it came, by whom and why stands with the photo.

        Raises
        ------
        UnknownError
            If there is no such photo or client.
        RefusedError
            If a revision that counts was measured in it, it belongs to another record, or no
            reason is given.
        """
        if not reason.strip():
            raise RefusedError("a photo isn't moved without a reason; give one")
        with self.writing() as connection:
            photo = self._known_photo(connection, photo_id)
            for client in sorted({photo.client_id, to_client}):  # in one order: no deadlock
                self.hold(connection, client)
            photo = self._known_photo(connection, photo_id)  # another chair may have moved it
            if photo.client_id == to_client:
                raise RefusedError(f"photo {photo_id}: lies in that client's file already")
            self._check_unused(connection, photo)
            self.consents.check(connection, to_client)
            plain = self.blob_of(connection, photo.client_id, photo_id, photo.sha256)
            trace = {"client": photo.client_id, "photo": photo_id, "reason": reason.strip()}
            more = {"by": by, "moved_from": trace}
            moved = self._added(connection, to_client, plain, photo.filename, photo.side, more)
            self._unlisted(connection, photo_id)
            detail = {"by": by, "to": moved.id}
            self.note(connection, Entry("move", photo.client_id, photo_id, detail=detail))
        with self.writing() as connection:  # only now: a crash must leave one of the two
            self.blobs.remove(connection, photo_id)
        return moved

    def _unlisted(self, connection: Connection, photo_id: str) -> None:
        index = tables.photo_index
        connection.execute(delete(index).where(index.c.photo_id == photo_id))

    def _known_photo(self, connection: Connection, photo_id: str) -> StoredPhoto:
        photo, index = tables.photo, tables.photo_index
        wanted = select(photo).join(index).where(photo.c.id == photo_id)
        row = connection.execute(wanted).first()
        if row is None:
            raise UnknownError(f"photo {photo_id}: is not in this file, or was moved or erased")
        return stored(self.seal_of(connection, row.client_id), row)

    def _check_unused(self, connection: Connection, photo: StoredPhoto) -> None:
        used, void = tables.revision_photo, tables.void
        wanted = (
            select(tables.revision.c.number)
            .join(used, used.c.revision_id == tables.revision.c.id)
            .outerjoin(void, void.c.revision_id == tables.revision.c.id)
            .where(used.c.photo_id == photo.id, void.c.revision_id.is_(None))
            .order_by(tables.revision.c.number)
        )
        numbers = [str(number) for number in connection.scalars(wanted)]
        if numbers:
            said = f"revision {', '.join(numbers)} was measured in it"
            raise RefusedError(f"photo {photo.id}: {said}; void that first, with a reason")
        seal = self.seal_of(connection, photo.client_id)
        held = holding(connection, seal, photo.client_id, photo.sha256)
        if held:
            said = f"belongs to the record {', '.join(held)}, which never changes"
            raise RefusedError(f"photo {photo.id}: {said}; it stays with this client")


def blob_place(client: str, photo: str) -> str:
    """Return where a photo's bytes lie."""
    return place("photo", "bytes", client, photo)


def document_place(client: str, photo: str, side: str) -> str:
    """Return where a photo's document lies: which ear is bound to it."""
    return place("photo", "document", client, photo, side)


def photo_document(seal: Seal, row: Row[Any]) -> dict[str, Any]:
    """Return what is kept of a photo beside its bytes.

    Raises
    ------
    DamagedError
        If it doesn't open.
    """
    return dict(
        json.loads(seal.open(document_place(row.client_id, row.id, row.side), row.document))
    )


def stored(seal: Seal, row: Row[Any]) -> StoredPhoto:
    """Return the photo that a row is of."""
    held = photo_document(seal, row)
    return StoredPhoto(
        row.id, row.client_id, held["sha256"], held["filename"], row.side, held["size"]
    )
