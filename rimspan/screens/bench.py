"""The photo that is marked: what to mark next above it, the live line below."""

from __future__ import annotations

from html import escape

import streamlit as st

from rimspan.screens import state, work
from rimspan.screens.document import Document, entry, hashes, labels, marks_of, with_marks
from rimspan.screens.layout import html
from rimspan.screens.marking import marking
from rimspan.screens.marking_words import live_words, missing_words, next_words
from rimspan.screens.media import photo_url
from rimspan.screens.stations import is_square_on
from rimspan.screens.store import client_file


@st.fragment
def bench(names: list[str]) -> None:
    """Draw the photo that is chosen; every change of its marks is kept at once."""
    document = state.document()
    file = _chosen(document, names)
    above = st.container(key="next")
    document = _marked(document, file)
    said, why = next_words(entry(document, file))  # known only once the marks have come
    with above:
        html(f'<p class="rim-next"><strong>{escape(said)}</strong> {escape(why)}</p>')
    with st.container(key="live"):
        for line in live_words(work.live(document, file)):
            html(f'<p class="rim-live">{escape(line)}</p>')
        html(
            f'<p class="rim-quiet">{escape(missing_words(entry(document, file)))} '
            f"From {work.LIVE_DRAWS:,} draws, for a first look; the answer takes 100,000.</p>"
        )


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


def _marked(document: Document, file: str) -> Document:
    """Draw the marking and return the draft with what it sent."""
    sha256 = hashes(document)[file]
    sent = marking(
        photo_url(client_file().photo_bytes(sha256)),
        work.reading(document, file).size,
        marks_of(entry(document, file)),
        photo=file,
        key=marking_key(sha256),
        label=labels(document)[0],
    )
    if sent is None or sent.get("photo") != file:
        return document
    new = with_marks(document, file, sent["marks"])
    state.keep(new)
    return new
