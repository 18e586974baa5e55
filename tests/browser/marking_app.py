"""Serves the marking bench with the routes of a photo's parts, as the screens are served."""

from __future__ import annotations

import os
from pathlib import Path

from streamlit.starlette import App

from rimspan.clientfile import Person, Role
from rimspan.screens.photo_routes import PhotoParts, routes
from rimspan.screens.serving import middleware
from rimspan.sign_ins import Seat, SignIns

FOLDER = Path(os.environ["MARKING_BENCH"])


class NoDemo:
    """A client file of which the door asks only whether it is the demo's."""

    sealed = True


class Open(SignIns):
    """Chairs at which everybody sees everything: the bench has no client."""

    def __init__(self) -> None:
        super().__init__(NoDemo)  # type: ignore[arg-type]

    def seat(self, written: str, *, used: bool = False) -> Seat:
        return Seat(Person("", "Alex Invented", Role.PIERCER), "", locked=False)

    def shows(self, written: str, sha256: str) -> bool:
        return True

    def renewed(self, written: str) -> None:
        return None


class Folder:
    """Keeps photos as files that bear their digests."""

    def holds(self, sha256: str) -> bool:
        return (FOLDER / sha256).is_file()

    def photo_bytes(self, sha256: str) -> bytes:
        return (FOLDER / sha256).read_bytes()


app = App(
    Path(__file__).with_name("marking_bench.py"),
    routes=routes(PhotoParts(Folder)),
    middleware=middleware(Open()),
)
