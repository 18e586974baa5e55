"""Pages of a consultation need an open client and ear: the one place that says so."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import layout, state
from rimspan.screens.document import Document


def opened() -> Document | None:
    """Return the open draft; where there is none, draw how to open one and return None."""
    if state.client_id() is None:
        layout.title("No client is open")
        layout.onward("clients", "Choose or create a client")
        return None
    if state.side() is None:
        layout.title("Which ear?")
        layout.onward("client", "Choose left or right")
        return None
    return state.document()


def need(document: Document, what: str, station: str) -> None:
    """Draw what a page lacks before it can show anything, with the way there."""
    st.write(what)
    layout.onward(station, f"Go to {station}")
