"""Drafts changed in one step, by a visit's page or by what a phone sends meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from assess.day_words import in_words
from rimspan.clientfile import ClientFile, OvertakenError, StoredPhoto
from rimspan.screens.document import (
    Document,
    fresh_document,
    hashes,
    new_document,
    with_photo,
    with_stock,
    without_photo,
)
from rimspan.stock_keeping import offered
from rimspan.studio_clock import day_of, today

_CHANGING = threading.RLock()

CHANGED = "x_changed"
"""Who changed a draft last, at which chair, and when."""
TRIES = 50
"""How often a change is done anew on what another chair has kept meanwhile."""


def draft_of(file: ClientFile, client: str, side: str) -> Document:
    """Return an ear's draft as the client file has it, a new one if there is none."""
    return _whole(file, side, file.draft(client, side))


def _whole(file: ClientFile, side: str, held: Mapping[str, Any] | None) -> Document:
    return fresh_draft(file, side) if held is None else new_document(side) | dict(held)


def fresh_draft(file: ClientFile, side: str) -> Document:
    """Return a new draft, with the print of the assessment that was saved last, and the stock.

    The posts are those of the studio's stock; where none is kept, of that assessment.
    """
    last = file.newest_revision()
    if last is None:
        new = new_document(side)
    else:
        new = fresh_document(side, last.marks, in_words(day_of(file, last.created_at)))
    number, posts = offered(file, today(file))
    return with_stock(new, number, [p.model_dump(mode="json") for p in posts]) if posts else new


@dataclass(frozen=True, slots=True)
class Hand:
    """Who changes a draft, and the number of their sign-in: two chairs may have one name."""

    by: str
    chair: str


def change_draft(
    file: ClientFile,
    client: str,
    side: str,
    edit: Callable[[Document], Mapping[str, Any]],
    hand: Hand | None = None,
) -> None:
    """Replace an ear's newest draft by what ``edit`` makes of it, and save it if it differs.

    No change is lost to another one: what another chair, or another program on the same file,
    has kept meanwhile is read, and ``edit`` done anew on that.

    Parameters
    ----------
    hand : stands in the draft, with the moment, for other chairs to see
    """
    for _ in range(TRIES):
        with _CHANGING:
            held, number = file.numbered_draft(client, side)
            old = _whole(file, side, held)
            new = dict(edit(old))
            if new == old:
                return
            if hand is not None:
                new[CHANGED] = asdict(hand) | {"at": file.clock().isoformat()}
            try:
                file.save_draft(client, side, new, over=number)
            except OvertakenError:
                continue
            return
    raise RuntimeError("the draft could not be changed beside another chair's")


def move_photo(
    file: ClientFile, photo: StoredPhoto, to_client: str, by: str, reason: str
) -> StoredPhoto:
    """Return a photo moved to the right client; in the drafts it moves too, without its marks.

    Who marks it anew sees whose ear it is.

    Raises
    ------
    ClientFileError
        If it can't be moved; the drafts stay as they are then.
    """
    with _CHANGING:
        moved = file.move_photo(photo.id, to_client, by, reason)
        change_draft(file, photo.client_id, photo.side, lambda old: _without(old, photo.sha256))
        change_draft(
            file,
            to_client,
            photo.side,
            lambda old: with_photo(old, photo.filename, photo.sha256),
        )
    return moved


def _without(document: Mapping[str, Any], sha256: str) -> Document:
    new = dict(document)
    for name, digest in hashes(document).items():
        if digest == sha256:
            new = without_photo(new, name)
    return new
