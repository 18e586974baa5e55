"""The photo that is marked, which says itself what comes next; the live line below it."""

from __future__ import annotations

from functools import partial
from html import escape

import streamlit as st

from rimspan.screens import state, work
from rimspan.screens.again_words import UNDER_WAY
from rimspan.screens.document import (
    MARKED_BY,
    RUNNING,
    Document,
    entry,
    hashes,
    labels,
    marks_of,
    with_marks,
)
from rimspan.screens.layout import html
from rimspan.screens.marking import marking
from rimspan.screens.marking_words import live_words, missing_words
from rimspan.screens.media import photo_url
from rimspan.screens.stations import is_square_on
from rimspan.screens.store import client_file


@st.fragment
def bench(names: list[str]) -> None:
    """Draw the photo that is chosen; every change of its marks is kept at once."""
    state.publish()  # a name that was typed in the marking stands in the address too
    document = state.document()
    file = _chosen(document, names)
    _mark(document, file)
    if RUNNING in entry(document, file):
        html(f'<p class="rim-quiet">{UNDER_WAY}</p>')
        return
    _say(document, file)


def _say(document: Document, file: str) -> None:
    """Draw the numbers; not while a pass runs, they would tell where the first marks lie."""
    with st.container(key="live"):
        for line in live_words(work.live(document, file)):
            html(f'<p class="rim-live">{escape(line)}</p>')
        html(
            f'<p class="rim-quiet">{escape(missing_words(entry(document, file)))} '
            f"From {work.LIVE_DRAWS:,} draws, for a first look; the answer takes 100,000.</p>"
        )
    for line in work.repeated(document, file):
        html(f'<p class="rim-quiet">{escape(line)}</p>')


def _chosen(document: Document, names: list[str]) -> str:
    """Return the photo to mark: the one that was picked, else the first that is square-on."""
    straight = [name for name in names if is_square_on(work.reading(document, name))]
    first = (straight or names)[0]
    if len(names) == 1:
        return first
    picked = st.segmented_control(
        "Photo", names, default=first, key=f"photo {names}", label_visibility="collapsed"
    )
    return picked or first


def marking_key(sha256: str) -> str:
    """Return the marking's key: another client, ear or photo is another marking."""
    return f"marking {state.client_id()} {state.side()} {sha256}"


def _mark(document: Document, file: str) -> None:
    sha256 = hashes(document)[file]
    key = marking_key(sha256)
    marking(
        photo_url(client_file().photo_bytes(sha256)),
        work.reading(document, file).size,
        marks_of(entry(document, file)),
        by=state.piercer(),
        first_by=entry(document, file).get(MARKED_BY, ""),
        photo=file,
        key=key,
        labels=labels(document),
        side=state.side() or "",
        on_change=partial(arrived, key),
    )


def arrived(key: str) -> None:
    """Put the marks that a marking has just sent into the draft."""
    sent = (state.value(key) or {}).get("document")
    if not sent or state.client_id() is None:
        return
    file, marks = sent["photo"], sent["marks"]
    if not state.piercer() and RUNNING in marks:
        state.set_piercer(marks[RUNNING]["by"])
    before, by = state.document(), state.piercer()
    state.change(lambda document: with_marks(document, file, marks, by))
    work.keep_repeats(before, state.document(), file)
