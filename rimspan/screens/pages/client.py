"""Client: whose ear, and which one."""

from __future__ import annotations

from functools import partial

import streamlit as st

from rimspan.screens import file_parts, layout, state
from rimspan.screens.document import files
from rimspan.screens.drafts import fresh_draft
from rimspan.screens.file_words import client_name
from rimspan.screens.store import client_file
from rimspan.screens.svg import ear
from rimspan.typed import in_markdown


def show() -> None:
    """Draw the page."""
    client = state.client_id()
    if client is None:
        layout.title("No client is open")
        layout.onward("clients", "Choose or create a client")
        return
    found = client_file().client(client)
    layout.title(in_markdown(client_name(found.name)))
    layout.said()
    if found.note:
        st.write(in_markdown(found.note))
    if not found.name:
        file_parts.keep_walk_in(client)
    st.subheader("Which ear, the client's own?", anchor=False)
    with st.container(key="ears"):
        columns = st.columns(2)
    for column, side in zip(columns, state.SIDES, strict=True):
        with column, st.container(border=True, horizontal_alignment="center"):
            chosen = state.side() == side
            # A button of another type would be another button, and the keyboard's focus be lost.
            sign = "rim-ear rim-chosen" if chosen else "rim-ear"
            layout.html(f'<div class="{sign}">{ear(side, 120)}</div>')
            st.button(
                f"{side.capitalize()} ear" + (" (chosen)" if chosen else ""),
                key=f"side {side}",
                width="stretch",
                on_click=partial(state.begin_at, client, side),
            )
    if state.side() is not None:
        _draft()


def _draft() -> None:
    document = state.document()
    names = files(document)
    with st.container(horizontal=True, vertical_alignment="center"):
        layout.onward("photos", "Go on to the photos")
        if names or document["caliper"] or document["examined"]:
            with st.popover("Begin this ear afresh"):
                st.write(
                    f"The draft ({len(names)} photos and their marks) is set aside. "
                    "Saved revisions stay."
                )
                st.button("Begin afresh", on_click=_afresh)


def _afresh() -> None:
    state.change(lambda old: fresh_draft(client_file(), old["side"]))
    state.say("A new draft is open.")
