"""Drafts changed in one step, by a visit's page or by what a phone sends meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from typing import Any

from rimspan.clientfile import ClientFile
from rimspan.screens.document import Document, fresh_document, new_document

_CHANGING = threading.RLock()


def draft_of(file: ClientFile, client: str, side: str) -> Document:
    """Return an ear's draft as the client file has it, a new one if there is none."""
    held = file.draft(client, side)
    return fresh_draft(file, side) if held is None else new_document(side) | dict(held)


def fresh_draft(file: ClientFile, side: str) -> Document:
    """Return a new draft, with the print and the stock of the assessment that was saved last."""
    last = file.newest_revision()
    if last is None:
        return new_document(side)
    return fresh_document(side, last.marks, f"{last.created_at:%d %B %Y}")


def change_draft(
    file: ClientFile, client: str, side: str, edit: Callable[[Document], Mapping[str, Any]]
) -> None:
    """Replace an ear's newest draft by what ``edit`` makes of it, and save it if it differs.

    Reading, editing and saving are one step, so that no change is lost to another one.
    """
    with _CHANGING:
        old = draft_of(file, client, side)
        new = dict(edit(old))
        if new != old:
            file.save_draft(client, side, new)
