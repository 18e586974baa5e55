"""Serves the screens with a clock that a test sets: the file that CLOCK names tells the moment."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from streamlit.starlette import App

from rimspan.clientfile import ClientFile, default_store
from rimspan.screens.serving import MAIN, MIDDLEWARE, ROUTES
from rimspan.screens.store import hand_over

CLOCK = Path(os.environ["CLOCK"])


def told() -> datetime:
    return datetime.fromisoformat(CLOCK.read_text("utf-8"))


STORE = str(default_store())
hand_over(STORE, ClientFile.open(STORE, clock=told))
app = App(MAIN, routes=ROUTES, middleware=MIDDLEWARE)
