"""Timeline: what was saved for this client, opened and measured again."""

from __future__ import annotations

import streamlit as st

from rimspan.clientfile import Revision
from rimspan.reopening import measured_again
from rimspan.screens import (
    answer_parts,
    at_the_chair,
    file_parts,
    layout,
    signing,
    state,
    svg,
    take_home,
    visit_timeline,
    work,
)
from rimspan.screens.file_words import client_name, void_words
from rimspan.screens.store import client_file
from rimspan.typed import in_html, in_markdown


def show() -> None:
    """Draw the page."""
    client = state.client_id()
    if client is None:
        layout.title("No client is open")
        layout.onward("clients", "Choose or create a client")
        return
    layout.title(f"Timeline of {in_markdown(client_name(client_file().client(client).name))}")
    layout.said()
    if not (revisions := client_file().revisions(client)):
        st.write("Nothing is saved yet. An assessment stands here once a piercer confirms it.")
    at_the_chair.without_assessment(client)
    for revision in sorted(revisions, key=lambda each: each.number, reverse=True):
        with st.container(border=True):
            _one(revision)
            at_the_chair.of_revision(client, revision)
            visit_timeline.after_piercing(revision)
    layout.judgement()


def _one(revision: Revision) -> None:
    layout.html(
        f'<div class="rim-where">{svg.ear(revision.side, 36)} {at_the_chair.which(revision)}</div>'
    )
    at_the_chair.who(revision)
    if revision.void is not None:
        layout.html(f'<div class="rim-flag">{in_html(void_words(revision.void))}</div>')
    if state.value("revision") == revision.id:
        _opened(revision)
        return
    for placement in work.saved_result(revision).placements:
        answer_parts.headline(placement)
    opened = ("revision", revision.id)
    st.button("Open again", key=f"reopen {revision.id}", on_click=state.set_value, args=opened)


def _opened(revision: Revision) -> None:
    placements = work.saved_result(revision).placements
    for placement in placements:
        answer_parts.placement(placement, len(placements) == 1, revision.side)
        answer_parts.budget(placement, alone=len(placements) == 1)
    with st.spinner("Drawing the picture as it was marked ..."):
        shown = work.saved_picture(revision)
    if shown is not None:
        st.image(shown, caption="The marks as they were saved.", alt=answer_parts.PICTURE)
    with st.container(horizontal=True, vertical_alignment="center"):
        again = st.button("Measure again from the saved photos and marks", key="again")
        signing.report_button(revision)
        if revision.void is None:
            file_parts.void(revision)
    take_home.again(revision)
    if again:
        with st.spinner("Measuring again ..."):
            st.info(measured_again(client_file(), revision.id))
