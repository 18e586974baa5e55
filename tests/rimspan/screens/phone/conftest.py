"""A phone that asks the routes directly, and an invented consultation that it sends into."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route

from rimspan.clientfile import ClientFile
from rimspan.phone_link import Guesses, PhoneLinks
from rimspan.screens.phone.arrival import Consultation
from rimspan.screens.phone.routes import phone_path, routes
from rimspan.screens.serving import middleware
from rimspan.sign_ins import SignIns
from tests.asgi import Answer, Browser

BOUNDARY = "------invented"
CLIENT, NOTE = "Robin Example", "an invented note"


def multipart(files: Sequence[tuple[str, bytes]]) -> bytes:
    """Return a form as a browser sends it: two choosers, the one left empty first."""
    parts = b""
    for name, data in [("", b""), *files]:
        head = (
            f"--{BOUNDARY}\r\n"
            f'Content-Disposition: form-data; name="photo"; filename="{name}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n"
        )
        parts += head.encode() + data + b"\r\n"
    return parts + f"--{BOUNDARY}--\r\n".encode()


@dataclass
class Phone(Browser):
    """A browser that keeps no cookie, and sends photos."""

    keeps_cookies: bool = False

    def send(self, path: str, *files: tuple[str, bytes], declared: bool = True) -> Answer:
        """Post files; without ``declared`` their length isn't said beforehand."""
        body = multipart(files)
        headers = {"content-type": f"multipart/form-data; boundary={BOUNDARY}"}
        if declared:
            headers["content-length"] = str(len(body))
        return self.ask("POST", path, body, headers)


@dataclass
class Studio:
    """A client file with one client, an open link, and the phone that knows its address."""

    file: ClientFile
    client: str
    side: str = "left"
    now_s: float = 0.0
    links: PhoneLinks[Consultation] = field(init=False)
    phone: Phone = field(init=False)

    def __post_init__(self) -> None:
        self.links = PhoneLinks(self.clock)
        beside = Route("/", lambda request: HTMLResponse("<p>the screens</p>"))
        added = routes(self.links, Guesses(self.clock, most=5))
        self.phone = Phone(
            Starlette(routes=[*added, beside], middleware=middleware(SignIns(lambda: self.file)))
        )

    def clock(self) -> float:
        return self.now_s

    @property
    def where(self) -> Consultation:
        return Consultation(self.file, self.client, self.side)

    def path(self) -> str:
        token, _ = self.links.issue(self.where)
        return phone_path(token)

    @property
    def names(self) -> list[str]:
        """Return the names of the photos in the draft."""
        draft = self.file.draft(self.client, self.side) or {"photos": []}
        return [photo["file"] for photo in draft["photos"]]


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    with ClientFile.open(tmp_path / "store") as file:
        yield Studio(file, file.create_client(CLIENT, NOTE).id)


def picture(grey: int, place: bool = False) -> bytes:
    """Return a small JPEG, with an invented place in its EXIF if asked for."""
    stream = io.BytesIO()
    exif = Image.Exif()
    if place:
        exif.get_ifd(0x8825)[2] = (10.0, 20.0, 30.0)
        exif[0x010F] = "Invented Phones"
    Image.new("L", (64, 48), grey).save(stream, "JPEG", exif=exif)
    return stream.getvalue()


@pytest.fixture
def jpeg() -> Any:
    return picture
