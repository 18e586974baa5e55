"""File: what is kept of a client, what they allowed, what was done, and the way out."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import chair, file_parts, layout, state
from rimspan.screens.file_words import client_name
from rimspan.screens.store import client_file


def show() -> None:
    """Draw the page."""
    client_id, person = state.client_id(), chair.person()
    if client_id is None or person is None:
        layout.title("No client is open")
        layout.onward("clients", "Choose or create a client")
        return
    client = client_file().client(client_id)
    layout.title(f"File of {client_name(client.name)}")
    layout.said()
    if not client.name:
        file_parts.keep_walk_in(client_id)
    allowed, kept = st.columns(2, gap="large")
    with allowed:
        st.subheader("Consent to photos", anchor=False)
        file_parts.consents(client_id)
    with kept:
        st.subheader("A photo in the wrong file", anchor=False)
        file_parts.photos(client_id)
    st.subheader("What was done", anchor=False)
    file_parts.history(client_id)
    if client.name:
        out, gone = st.columns(2, gap="large")
        with out:
            st.subheader("Hand out", anchor=False)
            file_parts.export(client, person)
        with gone:
            st.subheader("Erase", anchor=False)
            file_parts.erase(client, person)
