"""Marks that piercers repeated: each piercer's past, from which their repeatability is pooled.

They are the piercer's, not the client's, and stay when a client is erased.  So they hold
nothing of the client.  Each photo has a secret, a random id beside its client and its hash;
erasing a client takes that row away (:meth:`Repeats.unlink`).  Instead of the photo's hash and
the placement's label, which people type, the marks hold digests salted with the secret: without
it nobody can tell which photo they belong to, nor try out what the label was.  What is left
are millimetres in the card's frame under the name of the piercer, sealed by the studio's key.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterable
from dataclasses import asdict, replace
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select

from assess.repeatability import MarkSample
from rimspan.clientfile import tables
from rimspan.clientfile.base import Base
from rimspan.clientfile.keys import KeyRing
from rimspan.clientfile.seal import Seal, place

DIGITS = 32
"""Hexadecimal digits of a stand-in."""


class Repeats:
    """The repeated marks of a client file."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def save(self, client_id: str, digest: str, by: str, samples: Iterable[MarkSample]) -> None:
        """Keep one piercer's marks of one photo in place of those kept before.

        The same marks again change nothing; a pass that was taken back goes.

        Parameters
        ----------
        client_id, digest : whose photo, and the hash of its bytes
        by : the piercer; samples of others are a mistake
        samples : all passes of that piercer in that photo

        Raises
        ------
        UnknownError
            If there is no such client.
        """
        with self._file.writing() as connection:
            secret = self._secret(connection, client_id, digest)
            wanted = {_key(each): each for each in (_hidden(s, secret, by) for s in samples)}
            held = {
                row.id: sample
                for row in self._rows(connection, _stand_in(secret, "photo"))
                if (sample := self._opened(row)).by == by
            }
            stale = [key for key, sample in held.items() if wanted.get(key) != sample]
            if stale:
                gone = tables.repeat_mark.c.id.in_(stale)
                connection.execute(delete(tables.repeat_mark).where(gone))
            for key in wanted.keys() - (held.keys() - set(stale)):
                connection.execute(tables.repeat_mark.insert().values(self._row(key, wanted[key])))

    def samples(self, by: str | None = None) -> list[MarkSample]:
        """Return all marks, or one piercer's, the first kept first.

        ``photo`` and ``label`` are stand-ins that only tell points apart.
        """
        with self._file.reading() as connection:
            found = [self._opened(row) for row in self._rows(connection)]
        return [sample for sample in found if by is None or sample.by == by]

    def stamp(self) -> tuple[int, str]:
        """Return what differs once other marks are kept: their number, and when the last came."""
        mark = tables.repeat_mark
        with self._file.reading() as connection:
            counted = select(func.count(), func.max(mark.c.saved_at)).select_from(mark)
            number, last = connection.execute(counted).one()
        return int(number), str(last)

    def unlink(self, client_id: str, connection: Connection | None = None) -> None:
        """Forget which photos of a client the marks belong to: a part of erasing the client."""
        if connection is None:
            with self._file.writing() as own:
                self.unlink(client_id, own)
            return
        link = tables.repeat_photo
        connection.execute(delete(link).where(link.c.client_id == client_id))

    def _secret(self, connection: Connection, client_id: str, digest: str) -> str:
        """Return the secret of a client's photo, made if it is new."""
        # The client's row is held until the end, so two chairs don't make two secrets.
        self._file.hold(connection, client_id)
        link = tables.repeat_photo
        tag = photo_tag(self._file.ring, client_id, digest)
        known = connection.scalar(
            select(link.c.id).where((link.c.client_id == client_id) & (link.c.tag == tag))
        )
        if known is not None:
            return str(known)
        made = {"id": str(uuid.uuid4()), "client_id": client_id, "tag": tag}
        connection.execute(link.insert().values(made))
        return made["id"]

    def _rows(self, connection: Connection, photo: str | None = None) -> list[Row[Any]]:
        mark = tables.repeat_mark
        wanted = select(mark).order_by(mark.c.saved_at, mark.c.id)
        if photo is not None:
            wanted = wanted.where(mark.c.photo == photo)
        return list(connection.execute(wanted))

    def _opened(self, row: Row[Any]) -> MarkSample:
        return opened_mark(self._file.ring.studio, row)

    def _row(self, key: str, sample: MarkSample) -> dict[str, object]:
        return {
            "id": key,
            "photo": sample.photo,
            "document": self._file.ring.studio.close(
                mark_place(key), json.dumps(asdict(sample)).encode()
            ),
            "saved_at": self._file.clock(),
        }


def photo_tag(ring: KeyRing, client: str, digest: str) -> str:
    """Return what stands for a client's photo beside its secret."""
    return ring.tag("repeat", f"{client}\n{digest}")


def mark_place(key: str) -> str:
    """Return where a mark lies."""
    return place("repeat_mark", "document", key)


def opened_mark(studio: Seal, row: Row[Any]) -> MarkSample:
    """Return the mark that a row is of.

    Raises
    ------
    DamagedError
        If it doesn't open.
    """
    return MarkSample(**json.loads(studio.open(mark_place(row.id), row.document)))


def _hidden(sample: MarkSample, secret: str, by: str) -> MarkSample:
    """Return a sample with stand-ins for what would lead to the client."""
    if sample.by != by:
        raise ValueError(f"'samples' must be by {by!r} (got {sample.by!r})")
    label = _stand_in(secret, f"label {sample.label}")
    return replace(sample, photo=_stand_in(secret, "photo"), label=label)


def _stand_in(secret: str, what: str) -> str:
    return sha256(f"{secret}\n{what}".encode()).hexdigest()[:DIGITS]


def _key(sample: MarkSample) -> str:
    """Return what is the same for the same point in the same pass."""
    parts = [sample.photo, sample.by, sample.label, sample.point, sample.number]
    return sha256(json.dumps(parts).encode()).hexdigest()
