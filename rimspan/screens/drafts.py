"""Drafts changed in one step, by a visit's page or by what a phone sends meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from typing import Any

from rimspan.clientfile import ClientFile
from rimspan.screens.document import Document, new_document

_CHANGING = threading.RLock()


def draft_of(file: ClientFile, client: str, side: str) -> Document:
    """Return an ear's draft as the client file has it, a new one if there is none."""
    return new_document(side) | dict(file.draft(client, side) or {})


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
