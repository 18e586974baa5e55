"""On the timeline, what was done at the chair: what went in, the photo after, what isn't here."""

from __future__ import annotations

from functools import partial

import streamlit as st

from assess.day_words import in_words
from calibration.photo import Photo
from rimspan.clientfile import Revision
from rimspan.insertions import sittings
from rimspan.not_here import NOT_HERE, not_here_of
from rimspan.screens import insertion_parts, not_here_parts, state, work
from rimspan.screens.file_words import who_words
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.studio_clock import day_of
from rimspan.typed import in_html

WIDE_PX = 900
"""As wide as a photo is shown at most."""


def without_assessment(client: str) -> None:
    """Draw where nothing is done though no assessment was saved for it."""
    for record in client_file().records(NOT_HERE, client):
        if not_here_of(record).revision is None:
            not_here_parts.kept(record)


def which(revision: Revision) -> str:
    """Return which assessment, and of which day by the studio's clock."""
    day = in_words(day_of(client_file(), revision.created_at))
    return f"Revision {revision.number}, {revision.side} ear, {day}"


def who(revision: Revision) -> None:
    """Draw who measured and decided, and who put posts in."""
    known = sittings(client_file(), revision.client_id)
    mine = [s.insertion for s in known if s.revision == revision.number]
    lines = who_words(revision, [each.pierced_by for each in mine if each.put_in])
    html(f"<p>{'<br>'.join(in_html(line) for line in lines)}</p>")


def of_revision(client: str, revision: Revision) -> None:
    """Draw what was done on an assessment, and the way to record it."""
    mine = [s for s in sittings(client_file(), client) if s.revision == revision.number]
    for sitting in mine:
        insertion_parts.kept(sitting)
        if state.value("revision") == revision.id:
            for sha256 in sitting.baseline:
                _photo(sha256)
    for record in client_file().records(NOT_HERE, client):
        if not_here_of(record).revision == str(revision.number):
            not_here_parts.kept(record)
    if revision.void is None:
        st.button(
            "Record what went in" if not mine else "What went in, and the photo right after",
            key=f"insertion {revision.id}",
            on_click=partial(_record, revision.id),
        )


def _photo(sha256: str) -> None:
    found = work.photo(sha256)
    if isinstance(found, Photo):
        step = max(1, found.pixels.shape[1] // WIDE_PX)
        words = "Right after: post in, ear cleaned."
        st.image(found.pixels[::step, ::step], caption=words, alt=words)


def _record(revision: str) -> None:
    state.set_value("insertion of", revision)
    state.want("insertion")
