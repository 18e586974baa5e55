"""Whether a client allows that photos of their ear are kept: recorded, and withdrawn."""

from __future__ import annotations

import json
import uuid

from sqlalchemy import Connection, select

from rimspan.clientfile import tables
from rimspan.clientfile.base import Base, canonical
from rimspan.clientfile.chain import Entry
from rimspan.clientfile.errors import RefusedError
from rimspan.clientfile.moments import utc
from rimspan.clientfile.records import Consent
from rimspan.clientfile.seal import place


class Consents:
    """The consents of a client file."""

    def __init__(self, file: Base) -> None:
        self._file = file

    def record(self, client_id: str, given: bool, by: str, note: str = "") -> None:
        """Keep that a client gave or withdrew their consent to photos.

        Withdrawing takes no photo away: what is there stays until it is moved or the client is
        erased.  No further photo is kept.

        Raises
        ------
        UnknownError
            If there is no such client.
        """
        file, made = self._file, str(uuid.uuid4())
        document = {"given": given, "by": by, "note": note}
        with file.writing() as connection:
            file.hold(connection, client_id)
            seal = file.seal_of(connection, client_id)
            values = {
                "id": made,
                "client_id": client_id,
                "document": seal.close(
                    place("consent", "document", client_id, made), canonical(document)
                ),
                "at": file.clock(),
            }
            entry = Entry("consent", client_id, made, detail={"by": by})
            file.keep(connection, tables.consent, values, entry)

    def of(self, client_id: str) -> list[Consent]:
        """Return what a client gave and withdrew, the newest last."""
        with self._file.reading() as connection:
            return self._of(connection, client_id)

    def _of(self, connection: Connection, client_id: str) -> list[Consent]:
        consent = tables.consent
        # Two within one tick of the clock are told apart by the chain.
        wanted = (
            select(consent, tables.chain.c.seq)
            .join(
                tables.chain,
                (tables.chain.c.record == consent.c.id) & (tables.chain.c.kind == "consent"),
            )
            .where(consent.c.client_id == client_id)
            .order_by(tables.chain.c.seq)
        )
        rows = connection.execute(wanted).all()
        if not rows:
            return []
        seal = self._file.seal_of(connection, client_id)
        found = []
        for row in rows:
            where = place("consent", "document", client_id, row.id)
            held = json.loads(seal.open(where, row.document))
            found.append(Consent(held["given"], held["by"], held["note"], utc(row.at)))
        return found

    def check(self, connection: Connection, client_id: str) -> None:
        """Refuse where a client withdrew; nobody asked yet is no refusal.

        Raises
        ------
        RefusedError
            If the newest word is a withdrawal.
        """
        known = self._of(connection, client_id)
        if known and not known[-1].given:
            said = "withdrew the consent to photos"
            raise RefusedError(f"this client {said}; no photo is kept, ask and record it anew")
