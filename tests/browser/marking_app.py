"""Serves the marking bench with the routes of a photo's parts, as the screens are served."""

from __future__ import annotations

import os
from pathlib import Path

from streamlit.starlette import App

from rimspan.screens.photo_routes import PhotoParts, routes
from rimspan.screens.serving import MIDDLEWARE

FOLDER = Path(os.environ["MARKING_BENCH"])


class Folder:
    """Keeps photos as files that bear their digests."""

    def holds(self, sha256: str) -> bool:
        return (FOLDER / sha256).is_file()

    def photo_bytes(self, sha256: str) -> bytes:
        return (FOLDER / sha256).read_bytes()


app = App(
    Path(__file__).with_name("marking_bench.py"),
    routes=routes(PhotoParts(Folder)),
    middleware=MIDDLEWARE,
)
