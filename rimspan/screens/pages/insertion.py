"""Insertion: what really went in, where, by whom, from which lot; or not here, and why."""

from __future__ import annotations

import streamlit as st

from rimspan.clientfile import Revision
from rimspan.insertions import sittings
from rimspan.screens import (
    at_the_chair,
    chair,
    insertion_parts,
    layout,
    not_here_parts,
    state,
    work,
)
from rimspan.screens.insertion_words import NOTHING_IN_STOCK, NOTHING_SIGNED
from rimspan.screens.navigation import page
from rimspan.screens.store import client_file
from rimspan.stock_keeping import stock_of


def show() -> None:
    """Draw the page."""
    client, person = state.client_id(), chair.person()
    if client is None or person is None:
        layout.title("No client is open")
        layout.onward("clients", "Choose or create a client")
        return
    layout.title("Insertion")
    layout.said()
    revision = _which(client)
    if revision is None:
        st.write(NOTHING_SIGNED)
    elif person.role.may_confirm:
        _record(client, revision)
    else:
        st.write("A piercer records what went in.")
    if revision is not None:
        insertion_parts.wish(client)
    side = revision.side if revision is not None else state.side()
    if side is not None and person.role.may_confirm:
        with st.container(border=True):
            st.subheader("Not here", anchor=False)
            number = None if revision is None else revision.number
            not_here_parts.form(client, side, number)
    layout.judgement()
    layout.onward("timeline", "Go to the timeline")


def _which(client: str) -> Revision | None:
    """Return the assessment that this is about: the newest that counts, or another chosen one."""
    counting = [r for r in client_file().revisions(client) if r.void is None]
    if not counting:
        return None
    ids = {revision.id: revision for revision in counting}
    begins = state.value("insertion of")
    index = list(ids).index(begins) if begins in ids else 0
    chosen = st.selectbox(
        "Assessment", list(ids), index, format_func=lambda one: at_the_chair.which(ids[one])
    )
    return ids[chosen]


def _record(client: str, revision: Revision) -> None:
    person = chair.person()
    mine = [s for s in sittings(client_file(), client) if s.revision == revision.number]
    for sitting in mine:
        insertion_parts.kept(sitting)
        if sitting.lacks_baseline:
            insertion_parts.photo_after(client, sitting)
    done = {label for sitting in mine for label in sitting.labels}
    if person is None or all(p.label in done for p in work.saved_result(revision).placements):
        return
    if not any(item.count for item in stock_of(client_file()).stock.items):
        st.write(NOTHING_IN_STOCK)
        st.page_link(page("stock"), label="Go to the stock")
    insertion_parts.what_happened(revision, done, person)
