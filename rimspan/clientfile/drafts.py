"""Drafts: one for each ear, saved at every change, the only thing that is written over."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError

from rimspan.clientfile import tables
from rimspan.clientfile.base import TRIES, Base, canonical
from rimspan.clientfile.errors import OvertakenError
from rimspan.clientfile.seal import place


def draft_place(client: str, side: str, rev: int) -> str:
    """Return where a draft lies: its running number is bound to it."""
    return place("draft", "document", client, side, rev)


class Drafts(Base):
    """The drafts of a file."""

    def save_draft(
        self, client_id: str, side: str, document: Mapping[str, Any], *, over: int | None = None
    ) -> int:
        """Keep the draft of an ear's consultation and return its running number.

        Parameters
        ----------
        over : the running number of the draft that this one was made from, 0 where there was
            none; without it whatever is there is written over

        Raises
        ------
        OvertakenError
            If another chair kept a newer draft meanwhile; that one stays.
        """
        for _ in range(TRIES):
            try:
                return self._saved(client_id, side, canonical(document), over)
            except IntegrityError:  # another chair made this ear's first draft
                continue
        raise RuntimeError("the draft could not be kept beside another chair's")

    def _saved(self, client_id: str, side: str, plain: bytes, over: int | None) -> int:
        draft = tables.draft
        where = (draft.c.client_id == client_id) & (draft.c.side == side)
        with self.writing() as connection:
            self.hold(connection, client_id)
            held = connection.scalar(select(draft.c.rev).where(where).with_for_update())
            if over is not None and int(held or 0) != over:
                raise OvertakenError("another chair changed this draft meanwhile; take the newest")
            rev = int(held or 0) + 1
            seal = self.seal_of(connection, client_id)
            closed = seal.close(draft_place(client_id, side, rev), plain)
            if held is None:
                values = {"client_id": client_id, "side": side, "document": closed, "rev": rev}
                connection.execute(draft.insert().values(**values))
            else:
                connection.execute(draft.update().where(where).values(document=closed, rev=rev))
        return rev

    def draft(self, client_id: str, side: str) -> dict[str, Any] | None:
        """Return the draft of an ear's consultation, or None."""
        return self.numbered_draft(client_id, side)[0]

    def numbered_draft(self, client_id: str, side: str) -> tuple[dict[str, Any] | None, int]:
        """Return the draft of an ear's consultation and its running number; None and 0 without."""
        draft = tables.draft
        where = (draft.c.client_id == client_id) & (draft.c.side == side)
        with self.reading() as connection:
            row = connection.execute(select(draft).where(where)).first()
            if row is None:
                return None, 0
            seal = self.seal_of(connection, client_id)
        opened = seal.open(draft_place(client_id, side, row.rev), row.document)
        return dict(json.loads(opened)), int(row.rev)
