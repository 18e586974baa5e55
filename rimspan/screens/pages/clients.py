"""Start: who is at work, and for which client."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import layout, state
from rimspan.screens.demo_client import open_demo_client
from rimspan.screens.navigation import go, page
from rimspan.screens.store import client_file

SHOWN = 30


def show() -> None:
    """Draw the page."""
    layout.title("Rimspan")
    layout.said()
    st.text_input(
        "Who is measuring? Your name",
        value=state.piercer(),
        key="who field",
        max_chars=80,
        on_change=lambda: state.set_piercer(state.value("who field")),
    )
    if not client_file().clients():
        _begin()
    else:
        _clients()
    _create()
    st.button("Open the demo client", on_click=open_demo_client)
    layout.html('<p class="rim-quiet">Rendered ears and invented people, to try things on.</p>')
    st.page_link(page("repeatability"), label="How well marks repeat")


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
        st.write(f"No client's name holds “{search}”.")
    for client in found[:SHOWN]:
        if st.button(client.name, key=f"open {client.id}", width="stretch"):
            state.open_client(client.id)
            go("client")
    if len(found) > SHOWN:
        st.write(f"{len(found)} in all; type a part of the name to find the others.")


def _create() -> None:
    st.subheader("New client", anchor=False)
    with st.form("new client", border=True):
        st.text_input("Name or a sign of your own", key="new name", max_chars=120)
        st.text_input("Note (optional)", key="new note", max_chars=300)
        number = state.turn("client")
        st.form_submit_button("Create the client", on_click=_created, args=(number,))


def _created(number: int) -> None:
    name = str(state.value("new name", "")).strip()
    if not name:
        state.say("The name is empty. Type one and create the client again.")
        return
    if not state.once("client", number):
        return
    client = client_file().create_client(name, str(state.value("new note", "")).strip())
    state.set_value("new name", "")
    state.set_value("new note", "")
    state.open_client(client.id)
    state.want("client")
