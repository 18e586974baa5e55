"""The client file that the screens are open on."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import streamlit as st

from rimspan.clientfile import ClientFile, default_store

FORGETTING: list[Callable[[Iterable[str]], None]] = []
"""Are told the hashes of photos whose client was erased, to forget what they hold of them."""

_unlocked: dict[str, ClientFile] = {}


def hand_over(store: str, file: ClientFile) -> None:
    """Give the screens a client file that was opened before they started."""
    file.when_gone = FORGETTING
    _unlocked[store] = file


@st.cache_resource(show_spinner="Opening the client file ...")
def _opened(store: str) -> ClientFile:
    file = ClientFile.open(store)
    file.when_gone = FORGETTING
    return file


def client_file() -> ClientFile:
    """Return the open client file: one handle for each store, never a photo.

    Raises
    ------
    LockedError
        If nobody gave the passphrase that it needs.
    """
    store = str(default_store())
    return _unlocked.get(store) or _opened(store)
