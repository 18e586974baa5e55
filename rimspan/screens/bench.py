"""The photo that is marked, which says itself what comes next; the live line below it."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from html import escape
from typing import Any

import streamlit as st

from rimspan.screens import other_chair, several, state, work
from rimspan.screens.again_words import UNDER_WAY
from rimspan.screens.document import (
    MARKED_BY,
    RUNNING,
    Document,
    entry,
    hashes,
    labels,
    marks_of,
)
from rimspan.screens.drafts import change_draft, draft_of
from rimspan.screens.layout import html
from rimspan.screens.marking import marking
from rimspan.screens.marking_words import live_words, needs_words
from rimspan.screens.photo_crops import ear_area
from rimspan.screens.photo_routes import preview_url, tiles_of
from rimspan.screens.sent_marks import held_of, is_new, with_sent
from rimspan.screens.stations import is_square_on
from rimspan.screens.store import client_file
from rimspan.typed import in_html, in_markdown

HANDS = "hands-and-calipers"
"""The place in the page to which a tap beside the live line goes."""


@st.fragment
def bench(names: list[str]) -> None:
    """Draw the photo that is chosen; every change of its marks is kept at once."""
    state.check_open()
    document = state.document()
    file = _chosen(document, names)
    photo = st.container()
    other_chair.told(marking_key(hashes(document)[file]))
    if RUNNING in entry(document, file):
        html(f'<p class="rim-quiet">{UNDER_WAY}</p>')
    else:
        _say(document, file)
    with photo:  # last: what reaches the marking tells it that the number is out
        _mark(document, file)


def _say(document: Document, file: str) -> None:
    """Draw the numbers; not while a pass runs, they would tell where the first marks lie."""
    with st.container(key="live"):
        lines = live_words(work.live(document, file))
        said = "".join(f'<p class="rim-live">{in_html(line)}</p>' for line in lines)
        html(
            f'<div class="rim-dock"><div>{said}<p class="rim-quiet">'
            f"{escape(needs_words(document))} From {work.LIVE_DRAWS:,} draws, for a first look; "
            f'the answer takes 100,000.</p></div><a href="#{HANDS}">Hands and calipers</a></div>'
        )
    for line in work.repeated(document, file):
        html(f'<p class="rim-quiet">{in_html(line)}</p>')


def anew() -> None:
    """Put a button into the page, outside of every fragment, that the marking alone presses.

    It does so when the server was started anew under an open page: such a server can't run a
    fragment that it never drew, and would never see what the marking sends.
    """
    st.button("Draw the page anew", key="marking-anew")


def _chosen(document: Document, names: list[str]) -> str:
    """Return the photo to mark: the one that was picked, else the first that is square-on."""
    straight = [name for name in names if is_square_on(work.reading(document, name))]
    first = (straight or names)[0]
    if len(names) == 1:
        return first
    picked = st.segmented_control(
        "Photo",
        names,
        default=first,
        format_func=in_markdown,
        key=f"photo {names}",
        label_visibility="collapsed",
    )
    return picked or first


def marking_key(sha256: str) -> str:
    """Return the marking's key: another client, ear or photo is another marking."""
    return f"marking {state.client_id()} {state.side()} {sha256}"


def _mark(document: Document, file: str) -> None:
    sha256, reading = hashes(document)[file], work.reading(document, file)
    key, kept, size = marking_key(sha256), entry(document, file), reading.size
    sent = marking(
        preview_url(sha256),
        size,
        marks_of(kept),
        by=state.piercer(),
        first_by=kept.get(MARKED_BY, ""),
        photo=file,
        key=key,
        labels=labels(document),
        tiles=tiles_of(sha256, size),
        held=held_of(kept),
        side=state.side() or "",
        area=ear_area(reading),
        revision=other_chair.revision(key),
        helped=work.offer_help(document, file),
        several=several.part(document, file),
        on_change=partial(arrived, key),
    )
    # After the server was started anew, what the browser holds comes without the callback.
    if sent and is_new(kept, sent):
        _take(key, sent)
        st.rerun()


def arrived(key: str) -> None:
    """Put the marks that a marking has just sent into the draft."""
    sent = (state.value(key) or {}).get("document")
    if sent:
        _take(key, sent)


def _take(key: str, sent: Mapping[str, Any]) -> None:
    """Put a sent document into the draft for which it was made, whichever is open by now."""
    _, client, side, sha256 = key.split(" ")
    by = state.piercer()
    before = draft_of(client_file(), client, side)
    other_chair.look(before, key, sha256, sent)
    change_draft(
        client_file(),
        client,
        side,
        lambda draft: with_sent(draft, sha256, sent, by),
        state.hand(),
    )
    work.keep_repeats(client, before, draft_of(client_file(), client, side), sha256)
