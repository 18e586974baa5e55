"""Answers only who asks for this machine by a name of its own.

Streamlit holds its web socket to ``server.allowedHosts``, and answers everything else under any
name; a page of another site whose name was made to mean this machine could then read it.
"""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urlsplit

import streamlit as st
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

SETTING = "server.allowedHosts"


class OwnNames:
    """Refuses requests under names that the settings don't list; an empty list lets all in."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] == "http" and not _is_own(scope, st.get_option(SETTING)):
            refusal = PlainTextResponse("this machine has another name", 400)
            await refusal(scope, receive, send)
            return
        await self._app(scope, receive, send)


def _is_own(scope: Scope, names: Iterable[str] | None) -> bool:
    own = {name.strip().lower().rstrip(".") for name in names or ()}
    if not own or "*" in own:
        return True
    asked = [value for header, value in scope["headers"] if header == b"host"]
    if len(asked) != 1:
        return False
    if any(sign in asked[0] for sign in b"/?#@\\"):
        return False
    try:
        name = urlsplit(f"//{asked[0].decode('ascii')}").hostname or ""
    except ValueError:
        return False
    name = name.lower().rstrip(".")
    within = {f"*.{name.split('.', at)[at]}" for at in range(1, name.count(".") + 1)}
    return name in own or bool(own & within)
