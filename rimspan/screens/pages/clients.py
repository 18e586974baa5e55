"""Start: for which client."""

from __future__ import annotations

from functools import partial

import streamlit as st

from rimspan.screens import demo_client, due_parts, layout, new_client, state
from rimspan.screens.navigation import go, page
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown

SHOWN = 30


def show() -> None:
    """Draw the page."""
    layout.title("Rimspan")
    layout.said()
    if not client_file().clients():
        _begin()
    else:
        due_parts.on_start()
        _clients()
    new_client.form()
    demo_client.offer()
    st.page_link(page("repeatability"), label="How well marks repeat")
    st.page_link(page("outcomes"), label="Outcomes and limits")


def _begin() -> None:
    st.subheader("Nobody here yet. What to do first", anchor=False)
    with st.container(border=True):
        st.markdown("**1. Print the card** and check it with calipers.")
        st.page_link(page("card"), label="Open the printable card")
        st.markdown("**2. Look round with the demo client**, or add your first client below.")


def _clients() -> None:
    st.subheader("Clients", anchor=False)
    search = st.text_input("Search by name", key="search")
    found = client_file().clients(search)
    if not found:
        st.write(f"No client's name holds “{in_markdown(search)}”.")
    for client in found[:SHOWN]:
        with st.container(horizontal=True, key=f"client-{client.id}"):
            if st.button(in_markdown(client.name), key=f"open {client.id}", width="stretch"):
                state.open_client(client.id)
                go("client")
            for side in state.SIDES:
                st.button(
                    f"{side.capitalize()} ear",
                    key=f"open {side} {client.id}",
                    on_click=partial(state.begin_at, client.id, side),
                )
    if len(found) > SHOWN:
        st.write(f"{len(found)} in all; type a part of the name to find the others.")
