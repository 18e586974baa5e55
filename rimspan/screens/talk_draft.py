"""The talk in the draft of a consultation: kept with the marks, sealed like them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from assess.talk.record import Record, Talk, talk_from
from rimspan.languages import Language
from rimspan.screens import state
from rimspan.screens.document import Document, changed
from rimspan.screens.store import client_file
from rimspan.studio_words import spoken

TALK = "x_talk"
"""Where it lies in the draft."""


def record(document: Mapping[str, Any]) -> Record:
    """Return the talk as the draft keeps it; empty where nothing was asked."""
    return dict(document.get(TALK, {}))


def talk_of(document: Mapping[str, Any]) -> Talk:
    """Return the talk of a draft."""
    return talk_from(record(document), photos_kept=bool(document["photos"]))


def with_talk(document: Mapping[str, Any], new: Record) -> Document:
    """Return the draft with another talk, which makes it another assessment."""
    return changed(document, x_talk=new)


def with_running(document: Mapping[str, Any], new: Record) -> Document:
    """Return the draft with what follows the work, and goes on after it was saved.

    Ticks in the chair and the planned day change nothing that was confirmed.
    """
    return dict(document) | {TALK: new}


def words_in(code: str) -> Language:
    """Return a language in the studio's own words."""
    return spoken(client_file(), code)


def keep(edit: Callable[[Record], Record]) -> None:
    """Change the open draft's talk."""
    state.change(lambda draft: with_talk(draft, edit(record(draft))))


def keep_decided(edit: Callable[[Record], Record]) -> None:
    """Change what the piercer says on Sign; before saving, the draft stays the same one.

    The box that is ticked to sign belongs to a draft.  A new draft for each word of the piercer's
    would bring a new box, and take away a tick that was on its way to the old one.  What is signed
    is held against the assessment's digest all the same.
    """
    with_it = {True: with_talk, False: with_running}
    state.change(lambda draft: with_it["x_saved" in draft](draft, edit(record(draft))))


def keep_running(edit: Callable[[Record], Record]) -> None:
    """Change what goes on in the open draft's talk after it was saved."""
    state.change(lambda draft: with_running(draft, edit(record(draft))))
