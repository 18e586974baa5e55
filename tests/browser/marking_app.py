"""Serves the marking bench with the routes of a photo's parts, as the screens are served."""

from __future__ import annotations

import os
from pathlib import Path

from streamlit.starlette import App

from rimspan.screens.photo_routes import PhotoParts, routes
from rimspan.screens.serving import MIDDLEWARE

FOLDER = Path(os.environ["MARKING_BENCH"])

app = App(
    Path(__file__).with_name("marking_bench.py"),
    routes=routes(PhotoParts(lambda sha256: (FOLDER / sha256).read_bytes())),
    middleware=MIDDLEWARE,
)
