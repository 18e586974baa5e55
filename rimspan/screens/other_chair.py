"""Two chairs on one ear: who comes second is told, and nothing of either is written over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from html import escape
from typing import Any

from rimspan.screens import chair, state
from rimspan.screens.document import Document, entry, hashes
from rimspan.screens.drafts import CHANGED
from rimspan.screens.findings import fields
from rimspan.screens.layout import html
from rimspan.screens.sent_marks import is_overtaken
from rimspan.screens.store import client_file
from rimspan.typed import in_html

LATELY = timedelta(minutes=15)
"""For so long a change at another chair is told."""

OVERTAKEN = (
    "Another chair marked this photo meanwhile. The marks shown now are the newest; your last "
    "change isn't among them, and Undo brings it back."
)


def notice(document: Document) -> None:
    """Say who else has the open ear open, or changed its draft lately at another chair."""
    client, side = state.client_id(), state.side()
    if client is None or side is None:
        return
    names = chair.SIGN_INS.others(chair.written(), (client, side))
    changed = changed_elsewhere(document)
    stamp = [client, side, document.get(CHANGED)]
    if changed is not None and state.value("seen change") != stamp:
        state.show_in_fields(fields(document))
    state.set_value("seen change", stamp)
    words = words_of(names, changed)
    if words:
        html(f'<div class="rim-flag" role="status">{in_html(words)}</div>')


def changed_elsewhere(document: Mapping[str, Any]) -> tuple[str, datetime] | None:
    """Return who changed a draft last and when, if that was lately and at another chair."""
    held = document.get(CHANGED)
    if not held or held["chair"] in {"", state.hand().chair}:
        return None
    at = datetime.fromisoformat(held["at"])
    return (held["by"], at) if client_file().clock() - at < LATELY else None


def words_of(names: list[str], changed: tuple[str, datetime] | None) -> str:
    """Return what is said of other chairs, or ``""``."""
    said = []
    if names:
        have = "has" if len(names) == 1 else "have"
        said.append(f"{' and '.join(names)} {have} this ear open at another chair.")
    if changed is not None:
        by, at = changed
        said.append(f"{by} changed this draft there at {at.astimezone():%H:%M}; it is shown here.")
    if said:
        said.append("Nothing is written over: each change goes to the newest draft.")
    return " ".join(said)


def look(document: Mapping[str, Any], key: str, sha256: str, sent: Mapping[str, Any]) -> None:
    """Note, before what a marking sent is taken, whether another chair's marks are newer.

    Parameters
    ----------
    key : the marking's
    """
    file = next((name for name, digest in hashes(document).items() if digest == sha256), None)
    overtaken = file is not None and is_overtaken(entry(document, file), sent)
    if overtaken:
        state.set_value(f"newer {key}", int(sent["rev"]) + 1)
    state.set_value(f"overtaken {key}", overtaken)


def revision(key: str) -> int:
    """Return the number above which a marking's own marks are newer than those it is given."""
    return int(state.value(f"newer {key}", 0))


def told(key: str) -> None:
    """Say that a marking's last change was not taken, if so."""
    if state.value(f"overtaken {key}", False):
        html(f'<div class="rim-flag" role="alert">{escape(OVERTAKEN)}</div>')
