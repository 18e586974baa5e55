"""The client file: clients, photos, drafts and saved revisions behind one class."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from dataclasses import asdict
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from sqlalchemy import Connection, Engine, Row, func, select
from sqlalchemy.exc import IntegrityError

from calibration.photo import strip_photo
from rimspan.clientfile import tables
from rimspan.clientfile.blobs import Blobs, FolderBlobs, TableBlobs, opened
from rimspan.clientfile.database import is_url, open_engine
from rimspan.clientfile.errors import UnknownError
from rimspan.clientfile.records import Client, NewRevision, Revision, StoredPhoto, utc
from rimspan.clientfile.repeats import Repeats
from rimspan.clientfile.seal import PlainSeal, Seal

TRIES = 20
"""How often a number is tried anew when several chairs save for one client at once."""


def canonical(document: Mapping[str, Any]) -> bytes:
    """Return a document's one JSON form."""
    return json.dumps(
        document, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False
    ).encode()


class ClientFile:
    """What the studio keeps.  Safe to use from several threads and processes."""

    def __init__(self, engine: Engine, blobs: Blobs, seal: Seal) -> None:
        self._engine, self._blobs, self._seal = engine, blobs, seal

    @classmethod
    def open(cls, store: str | Path) -> ClientFile:
        """Return the client file in a folder or at a database URL, made if it is new.

        Raises
        ------
        StoreError
            If it can't be opened.
        """
        engine = open_engine(store)
        blobs: Blobs = TableBlobs() if is_url(store) else FolderBlobs(Path(store) / "blobs")
        return cls(engine, blobs, PlainSeal())

    @property
    def sealed(self) -> bool:
        """Return whether what is kept can be read by key only."""
        return self._seal.sealed

    @property
    def repeats(self) -> Repeats:
        """Return the marks that piercers repeated."""
        return Repeats(self._engine, self._seal)

    def close(self) -> None:
        """Let go of the store."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        """Return the file itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the file."""
        self.close()

    # Clients

    def create_client(self, name: str, note: str = "") -> Client:
        """Return a new client."""
        made = Client(str(uuid.uuid4()), name.strip(), note, datetime.now(UTC))
        with self._engine.begin() as connection:
            connection.execute(
                tables.client.insert().values(
                    id=made.id,
                    name=self._seal.close(f"client/{made.id}/name", made.name.encode()),
                    note=self._seal.close(f"client/{made.id}/note", note.encode()),
                    created_at=made.created_at,
                )
            )
        return made

    def clients(self, search: str = "") -> list[Client]:
        """Return the clients whose name holds ``search``, by name; looked through in memory."""
        with self._engine.begin() as connection:
            rows = connection.execute(select(tables.client)).all()
        found = [self._client(row) for row in rows]
        wanted = search.casefold().strip()
        kept = [client for client in found if wanted in client.name.casefold()]
        return sorted(kept, key=lambda client: (client.name.casefold(), client.created_at))

    def client(self, client_id: str) -> Client:
        """Return one client.

        Raises
        ------
        UnknownError
            If there is none of that id.
        """
        with self._engine.begin() as connection:
            return self._client(self._known(connection, client_id))

    def _known(self, connection: Connection, client_id: str) -> Row[Any]:
        row = connection.execute(
            select(tables.client).where(tables.client.c.id == client_id)
        ).first()
        if row is None:
            raise UnknownError(f"client {client_id}: is not in this file; open another store?")
        return row

    def _client(self, row: Row[Any]) -> Client:
        name = self._seal.open(f"client/{row.id}/name", row.name).decode()
        note = self._seal.open(f"client/{row.id}/note", row.note).decode()
        return Client(row.id, name, note, utc(row.created_at))

    # Photos

    def add_photo(self, client_id: str, data: bytes, filename: str, side: str) -> StoredPhoto:
        """Return the photo as kept: stripped of place, serials and thumbnails.

        Raises
        ------
        PhotoError
            If the bytes are no photo.
        """
        plain = strip_photo(data)
        digest = sha256(plain).hexdigest()
        with self._engine.begin() as connection:
            self._known(connection, client_id)
            self._blobs.put(connection, digest, self._seal.close(f"blob/{digest}", plain))
            held = self._photo_rows(connection, client_id, side, digest)
            if held:
                return held[0]
            made = StoredPhoto(str(uuid.uuid4()), client_id, digest, filename, side, len(plain))
            closed = self._seal.close(f"photo/{made.id}/filename", filename.encode())
            connection.execute(tables.photo.insert().values(**{**asdict(made), "filename": closed}))
        return made

    def photos(self, client_id: str, side: str | None = None) -> list[StoredPhoto]:
        """Return a client's photos."""
        with self._engine.begin() as connection:
            return self._photo_rows(connection, client_id, side, None)

    def _photo_rows(
        self, connection: Connection, client_id: str, side: str | None, digest: str | None
    ) -> list[StoredPhoto]:
        wanted = select(tables.photo).where(tables.photo.c.client_id == client_id)
        if side is not None:
            wanted = wanted.where(tables.photo.c.side == side)
        if digest is not None:
            wanted = wanted.where(tables.photo.c.sha256 == digest)
        found = []
        for row in connection.execute(wanted):
            name = self._seal.open(f"photo/{row.id}/filename", row.filename).decode()
            found.append(StoredPhoto(row.id, row.client_id, row.sha256, name, row.side, row.size))
        return found

    def photo_bytes(self, digest: str) -> bytes:
        """Return a photo's bytes.

        Raises
        ------
        DamagedError
            If they are gone or changed.
        """
        with self._engine.begin() as connection:
            return opened(self._blobs, connection, digest, self._seal)

    # Drafts

    def save_draft(self, client_id: str, side: str, document: Mapping[str, Any]) -> int:
        """Keep the draft of an ear's consultation and return its running number."""
        kept = self._seal.close(f"draft/{client_id}/{side}", canonical(document))
        where = (tables.draft.c.client_id == client_id) & (tables.draft.c.side == side)
        with self._engine.begin() as connection:
            self._known(connection, client_id)
            rev = connection.scalar(select(tables.draft.c.rev).where(where).with_for_update())
            if rev is None:
                values = {"client_id": client_id, "side": side, "document": kept, "rev": 1}
                connection.execute(tables.draft.insert().values(**values))
                return 1
            connection.execute(
                tables.draft.update().where(where).values(document=kept, rev=rev + 1)
            )
        return int(rev) + 1

    def draft(self, client_id: str, side: str) -> dict[str, Any] | None:
        """Return the draft of an ear's consultation, or None."""
        where = (tables.draft.c.client_id == client_id) & (tables.draft.c.side == side)
        with self._engine.begin() as connection:
            kept = connection.scalar(select(tables.draft.c.document).where(where))
        if kept is None:
            return None
        document = json.loads(self._seal.open(f"draft/{client_id}/{side}", kept))
        return dict(document)

    # Revisions

    def save_revision(self, new: NewRevision, token: str) -> Revision:
        """Return the saved revision; the same token again returns the one that is there."""
        for _ in range(TRIES):
            try:
                with self._engine.begin() as connection:
                    return self._by_token(connection, token) or self._insert(connection, new, token)
            except IntegrityError:  # another chair took the number or saved this token
                continue
        raise RuntimeError("no free revision number was found")

    def _by_token(self, connection: Connection, token: str) -> Revision | None:
        row = connection.execute(
            select(tables.revision).where(tables.revision.c.token == token)
        ).first()
        return self._revision(row) if row is not None else None

    def _insert(self, connection: Connection, new: NewRevision, token: str) -> Revision:
        self._known(connection, new.client_id)
        number = connection.scalar(
            select(func.coalesce(func.max(tables.revision.c.number), 0)).where(
                tables.revision.c.client_id == new.client_id
            )
        )
        made = Revision(str(uuid.uuid4()), int(number or 0) + 1, datetime.now(UTC), new)
        connection.execute(
            tables.revision.insert().values(
                id=made.id,
                client_id=new.client_id,
                number=made.number,
                token=token,
                side=new.side,
                document=self._seal.close(f"revision/{made.id}", canonical(asdict(new))),
                created_at=made.created_at,
            )
        )
        for position, digest in enumerate(new.photos.values()):
            connection.execute(
                tables.revision_photo.insert().values(
                    revision_id=made.id, position=position, sha256=digest
                )
            )
        return made

    def revisions(self, client_id: str) -> list[Revision]:
        """Return a client's saved revisions, the newest first."""
        wanted = (
            select(tables.revision)
            .where(tables.revision.c.client_id == client_id)
            .order_by(tables.revision.c.number.desc())
        )
        with self._engine.begin() as connection:
            return [self._revision(row) for row in connection.execute(wanted)]

    def newest_revision(self) -> Revision | None:
        """Return the revision that was saved last, of whichever client."""
        wanted = select(tables.revision).order_by(tables.revision.c.created_at.desc()).limit(1)
        with self._engine.begin() as connection:
            row = connection.execute(wanted).first()
        return self._revision(row) if row is not None else None

    def revision(self, revision_id: str) -> Revision:
        """Return one saved revision.

        Raises
        ------
        UnknownError
            If there is none of that id.
        """
        with self._engine.begin() as connection:
            row = connection.execute(
                select(tables.revision).where(tables.revision.c.id == revision_id)
            ).first()
        if row is None:
            raise UnknownError(f"revision {revision_id}: is not in this file; open another store?")
        return self._revision(row)

    def _revision(self, row: Row[Any]) -> Revision:
        saved = json.loads(self._seal.open(f"revision/{row.id}", row.document))
        return Revision(row.id, row.number, utc(row.created_at), NewRevision(**saved))
