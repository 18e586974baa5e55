"""The form that makes a client, once."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import layout, state
from rimspan.screens.file_words import WALK_IN
from rimspan.screens.store import client_file


def form() -> None:
    """Draw the form."""
    st.subheader("New client", anchor=False)
    with st.form("new client", border=True):
        st.text_input("Name or a sign of your own", key="new name", max_chars=120)
        st.text_input("Note (optional)", key="new note", max_chars=300)
        number = state.turn("client")
        st.form_submit_button("Create the client", on_click=_created, args=(number,))
    st.button("A walk-in, without a name", key="walk-in", on_click=_walked_in, args=(number,))
    layout.html(f'<p class="rim-quiet">{WALK_IN}</p>')


def _walked_in(number: int) -> None:
    if state.once("client", number):
        state.open_client(client_file().walk_in(by=state.piercer()).id)
        state.want("client")


def _created(number: int) -> None:
    name = str(state.value("new name", "")).strip()
    if not name:
        state.say("The name is empty. Type one and create the client again.")
        return
    if not state.once("client", number):
        return
    note = str(state.value("new note", "")).strip()
    client = client_file().create_client(name, note, by=state.piercer())
    state.set_value("new name", "")
    state.set_value("new note", "")
    state.open_client(client.id)
    state.want("client")
