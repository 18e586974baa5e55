"""The client file that the screens are open on."""

from __future__ import annotations

import streamlit as st

from rimspan.clientfile import ClientFile, default_store


@st.cache_resource(show_spinner="Opening the client file ...")
def _opened(store: str) -> ClientFile:
    return ClientFile.open(store)


def client_file() -> ClientFile:
    """Return the open client file: one handle for each store, never a photo."""
    return _opened(str(default_store()))
