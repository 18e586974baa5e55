"""Starts the screens on this machine."""

from __future__ import annotations

import os
import socket
import tomllib
from collections.abc import Mapping
from importlib import resources
from typing import Any

from streamlit.starlette import App

from rimspan.screens.phone.address import EVERYWHERE, lan_address
from rimspan.screens.serving import MAIN, MIDDLEWARE, ROUTES

STORE = "RIMSPAN_STORE"


def settings() -> dict[str, Any]:
    """Return Streamlit's settings as they come with the screens, by dotted name."""
    text = resources.files("rimspan.screens").joinpath("config.toml").read_text("utf-8")
    return _dotted(tomllib.loads(text))


def _dotted(table: Mapping[str, Any], above: str = "") -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in table.items():
        if isinstance(value, Mapping):
            flat |= _dotted(value, f"{above}{name}.")
        else:
            flat[f"{above}{name}"] = value
    return flat


def in_network(address: str) -> dict[str, Any]:
    """Return the settings to listen on an address, and the names by which one may then ask.

    A page of another site could borrow a name of its own for this machine; so only those names
    are answered that are this machine's.
    """
    name, here = socket.gethostname(), lan_address()
    own = ["localhost", "127.0.0.1", address, name, f"{name}.local", here]
    return {
        "server.address": address,
        "server.allowedHosts": list(dict.fromkeys(known for known in own if known)),
        # Left to itself, Streamlit would ask a server on the internet for this one's address.
        "browser.serverAddress": here or "localhost" if address in EVERYWHERE else address,
    }


def launch(store: str | None = None, port: int | None = None, address: str | None = None) -> int:
    """Serve the screens until they are stopped, and return the exit status.

    Parameters
    ----------
    store : the client file's folder or database URL; by default the environment's
    port : by default Streamlit's, or the next that is free
    address : the address to listen on; by default this machine's own alone
    """
    if store is not None:
        os.environ[STORE] = store
    chosen = settings()
    if port is not None:
        chosen["server.port"] = port
    if address is not None:
        chosen |= in_network(address)
    try:
        App(MAIN, routes=ROUTES, middleware=MIDDLEWARE).run(config=chosen)
    except KeyboardInterrupt:
        return 130
    return 0
