"""Revisions: saved once, never changed; void with a reason where one was wrong."""

from __future__ import annotations

import json
import uuid
from dataclasses import fields
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, Select, func, select
from sqlalchemy.exc import IntegrityError

from rimspan.clientfile import tables
from rimspan.clientfile.base import TRIES, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.errors import RefusedError, UnknownError
from rimspan.clientfile.moments import utc
from rimspan.clientfile.photos import Photos
from rimspan.clientfile.records import NewRevision, Revision, Void
from rimspan.clientfile.seal import Seal, place


def revision_place(client: str, revision: str, number: int) -> str:
    """Return where a revision's document lies: its number is bound to it."""
    return place("revision", "document", client, revision, number)


def void_place(client: str, revision: str) -> str:
    """Return where the word that a revision is void lies."""
    return place("void", "document", client, revision)


class Revisions(Photos):
    """The revisions of a file."""

    def save_revision(
        self, new: NewRevision, token: str, *, created_at: datetime | None = None
    ) -> Revision:
        """Return the saved revision; the same token again returns the one that is there.

        Parameters
        ----------
        created_at : when it was saved elsewhere, for one that is brought here

        Raises
        ------
        UnknownError
            If there is no such client, or a photo isn't theirs.
        RefusedError
            If the client is a walk-in that isn't kept.
        """
        for _ in range(TRIES):
            try:
                with self.writing() as connection:
                    known = self._by_token(connection, token)
                    return known or self._insert_revision(connection, new, token, created_at)
            except IntegrityError:  # another chair took the number or saved this token
                continue
        raise RuntimeError("no free revision number was found")

    def _by_token(self, connection: Connection, token: str) -> Revision | None:
        rows = connection.execute(_revisions().where(tables.revision.c.token == token)).all()
        return self._opened(connection, rows[0]) if rows else None

    def _insert_revision(
        self, connection: Connection, new: NewRevision, token: str, created_at: datetime | None
    ) -> Revision:
        self.hold(connection, new.client_id)
        # One that is brought from elsewhere passes until all of it is there.
        if new.client_id in self.passing and created_at is None:
            raise RefusedError("a walk-in's assessment isn't saved; keep the client first")
        number = connection.scalar(
            select(func.coalesce(func.max(tables.revision.c.number), 0)).where(
                tables.revision.c.client_id == new.client_id
            )
        )
        made = Revision(str(uuid.uuid4()), int(number or 0) + 1, created_at or self.clock(), new)
        seal = self.seal_of(connection, new.client_id)
        where = revision_place(new.client_id, made.id, made.number)
        values = {
            "id": made.id,
            "client_id": new.client_id,
            "number": made.number,
            "token": token,
            "side": new.side,
            "document": seal.close(
                where, canonical({each.name: getattr(new, each.name) for each in fields(new)})
            ),
            "created_at": made.created_at,
        }
        photos = self._photo_ids(connection, new)
        by = {"measured_by": new.measured_by, "decided_by": new.decided_by}
        entry = Entry("revision", new.client_id, made.id, detail=by)
        self.keep(connection, tables.revision, values, entry)
        for position, photo in enumerate(photos):
            connection.execute(
                tables.revision_photo.insert().values(
                    revision_id=made.id, position=position, photo_id=photo
                )
            )
        return made

    def _photo_ids(self, connection: Connection, new: NewRevision) -> list[str]:
        index, found = tables.photo_index, []
        for name in sorted(new.photos):  # the order in which the document keeps them
            digest = new.photos[name]
            wanted = select(index.c.photo_id).where(
                index.c.client_id == new.client_id, index.c.tag == self.tag_of(digest)
            )
            photo = connection.scalar(wanted.limit(1))
            if photo is None:
                said = "is not in this client's file; take it in there first"
                raise UnknownError(f"photo {digest[:12]}: {said}")
            found.append(photo)
        return found

    def revisions(self, client_id: str) -> list[Revision]:
        """Return a client's saved revisions, the newest first."""
        wanted = (
            _revisions()
            .where(tables.revision.c.client_id == client_id)
            .order_by(tables.revision.c.number.desc())
        )
        with self.reading() as connection:
            rows = connection.execute(wanted).all()
            seal = self.seal_of(connection, client_id) if rows else None
        return [opened_revision(seal, row) for row in rows] if seal else []

    def newest_revision(self) -> Revision | None:
        """Return the revision that counts and was saved last, of any client that isn't erased."""
        void, key = tables.void, tables.client_key
        wanted = (
            _revisions()
            .join(key, key.c.client_id == tables.revision.c.client_id)
            .where(void.c.revision_id.is_(None))
            .order_by(tables.revision.c.created_at.desc())
            .limit(1)
        )
        with self.reading() as connection:
            row = connection.execute(wanted).first()
            return None if row is None else self._opened(connection, row)

    def saved_between(self, start: datetime, end: datetime) -> list[Revision]:
        """Return the revisions saved from a moment on, up to another, the first first.

        Those of clients who were erased since are left out; void ones are in it.

        Parameters
        ----------
        start, end : with their zones
        """
        made, key = tables.revision.c.created_at, tables.client_key
        wanted = (
            _revisions()
            .add_columns(key.c.wrapped)
            .join(key, key.c.client_id == tables.revision.c.client_id)
            .where(made >= start.astimezone(UTC), made < end.astimezone(UTC))
            .order_by(made)
        )
        with self.reading() as connection:
            rows = connection.execute(wanted).all()
        return [opened_revision(self._seal_by(row), row) for row in rows]

    def _seal_by(self, row: Row[Any]) -> Seal:
        client = row.client_id
        return self.ring.of_client(client, self.ring.data_key(client, row.wrapped))

    def revision(self, revision_id: str) -> Revision:
        """Return one saved revision.

        Raises
        ------
        UnknownError
            If there is none of that id, or its client was erased.
        """
        with self.reading() as connection:
            return self._known_revision(connection, revision_id)

    def _known_revision(self, connection: Connection, revision_id: str) -> Revision:
        row = connection.execute(_revisions().where(tables.revision.c.id == revision_id)).first()
        if row is None:
            raise UnknownError(f"revision {revision_id}: is not in this file; open another store?")
        return self._opened(connection, row)

    def void_revision(self, revision_id: str, by: str, reason: str) -> Revision:
        """Return a revision that doesn't count from now on; it stays readable as it was.

        Raises
        ------
        UnknownError
            If there is none of that id.
        RefusedError
            If it is void already, or no reason or name is given.
        """
        if not reason.strip() or not by.strip():
            raise RefusedError("a revision isn't made void without a name and a reason; give both")
        with self.writing() as connection:
            client = self._known_revision(connection, revision_id).client_id
            self.hold(connection, client)
            known = self._known_revision(connection, revision_id)  # another chair may have been
            if known.void is not None:
                raise RefusedError(f"revision {known.number}: is void already")
            seal = self.seal_of(connection, client)
            document = canonical({"reason": reason.strip(), "by": by.strip()})
            values = {
                "revision_id": revision_id,
                "client_id": client,
                "document": seal.close(void_place(client, revision_id), document),
                "at": self.clock(),
            }
            entry = Entry("void", client, revision_id, detail={"by": by.strip()})
            self.keep(connection, tables.void, values, entry)
            return self._known_revision(connection, revision_id)

    def _opened(self, connection: Connection, row: Row[Any]) -> Revision:
        return opened_revision(self.seal_of(connection, row.client_id), row)


def _revisions() -> Select[Any]:
    void = tables.void
    return select(
        tables.revision, void.c.document.label("void_document"), void.c.at.label("void_at")
    ).outerjoin(void, void.c.revision_id == tables.revision.c.id)


def opened_revision(seal: Seal, row: Row[Any]) -> Revision:
    """Return the revision that a row is of, with why it is void if it is.

    Raises
    ------
    DamagedError
        If it doesn't open.
    """
    client = row.client_id
    saved = json.loads(seal.open(revision_place(client, row.id, row.number), row.document))
    void = None
    if row.void_document is not None:
        held = json.loads(seal.open(void_place(client, row.id), row.void_document))
        void = Void(held["reason"], held["by"], utc(row.void_at))
    return Revision(row.id, row.number, utc(row.created_at), NewRevision(**saved), void)
