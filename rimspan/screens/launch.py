"""Starts the screens on this machine."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from importlib import resources
from typing import Any

from streamlit.starlette import App

from rimspan.screens.serving import MAIN, MIDDLEWARE

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


def launch(store: str | None = None, port: int | None = None) -> int:
    """Serve the screens until they are stopped, and return the exit status.

    Parameters
    ----------
    store : the client file's folder or database URL; by default the environment's
    port : by default Streamlit's, or the next that is free
    """
    if store is not None:
        os.environ[STORE] = store
    chosen = settings() | ({"server.port": port} if port is not None else {})
    try:
        App(MAIN, middleware=MIDDLEWARE).run(config=chosen)
    except KeyboardInterrupt:
        return 130
    return 0
