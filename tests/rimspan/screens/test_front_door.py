"""What comes in: under names of this machine only, no larger than told, and of the kind it is."""

from __future__ import annotations

import http.client
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import streamlit as st
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from calibration.photo import LIMIT_PX, PhotoError, strip_photo
from rimspan.screens import launch as starting
from rimspan.screens import own_names
from rimspan.screens.phone.words import MOST_BYTES, MOST_PHOTOS
from tests.asgi import Browser
from tests.browser.server import free_port, launch, stop
from tests.rimspan.clientfile.made import noise

ROOT = Path(__file__).resolve().parents[3]
SCRIPT = b"<script>alert(1)</script>"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder, port = tmp_path_factory.mktemp("door"), free_port()
    env = {"RIMSPAN_STORE": str(folder / "store")}
    server = launch(ROOT / "app.py", port, folder / "log", env)
    yield f"127.0.0.1:{port}"
    stop(server)


def status(address: str, path: str, host: str, **headers: str) -> int:
    connection = http.client.HTTPConnection(address, timeout=20)
    connection.request("GET", path, headers={"Host": host, **headers})
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status


@pytest.mark.parametrize(
    ("names", "host", "answered"),
    [
        ([], "any.example", 200),
        (["*"], "any.example", 200),
        (["studio.example"], "Studio.Example.:8501", 200),
        (["studio.example"], "x.studio.example", 400),
        (["*.studio.example"], "a.b.studio.example", 200),
        (["*.studio.example"], "studio.example", 400),
        (["*.studio.example"], "evilstudio.example", 400),
        (["127.0.0.1"], "127.0.0.1@elsewhere.example", 400),
        (["127.0.0.1"], "127.0.0.1#.elsewhere.example", 400),
        (["127.0.0.1"], "[::1", 400),
        (["127.0.0.1"], "", 400),
    ],
)
def test_names_are_compared_whole(
    monkeypatch: pytest.MonkeyPatch, names: list[str], host: str, answered: int
) -> None:
    monkeypatch.setattr(st, "get_option", lambda name: {own_names.SETTING: names}[name])
    routes = [Route("/", lambda request: PlainTextResponse("in"))]
    browser = Browser(Starlette(routes=routes, middleware=[Middleware(own_names.OwnNames)]))
    assert browser.ask("GET", "/", headers={"host": host}).status == answered


@pytest.mark.parametrize("path", ["/", "/_stcore/health", "/photo/x/preview.jpg", "/phone/x"])
def test_no_other_name_is_answered(address: str, path: str) -> None:
    port = urlsplit(f"//{address}").port
    for host in ("elsewhere.example", f"elsewhere.example:{port}", "localhost.elsewhere.example"):
        assert status(address, path, host) in (400, 403), host
    assert status(address, "/", address) == status(address, "/", f"localhost:{port}") == 200


def test_no_page_of_another_site_talks_to_the_screens(address: str) -> None:
    upgrade = {
        "Connection": "Upgrade",
        "Upgrade": "websocket",
        "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "AAAAAAAAAAAAAAAAAAAAAA==",
    }
    path = "/_stcore/stream"
    assert status(address, path, address, Origin=f"http://{address}", **upgrade) == 101
    assert status(address, path, address, Origin="http://elsewhere.example", **upgrade) == 403
    assert status(address, path, "elsewhere.example", **upgrade) in (400, 403)


def test_uploads_have_a_limit() -> None:
    assert starting.settings()["server.maxUploadSize"] == 60  # megabytes, one file
    assert MOST_BYTES == 150_000_000
    assert MOST_PHOTOS == 10


@pytest.mark.parametrize(
    "content",
    [
        b"GIF89a" + bytes(100),
        b"%PDF-1.7\n" + SCRIPT,
        b"<svg xmlns='http://www.w3.org/2000/svg'>" + SCRIPT + b"</svg>",
        b"<!doctype html>" + SCRIPT,
        b"PK\x03\x04" + bytes(100),
        b"MZ" + bytes(100),
        b"\x00" * 100,
        b"",
    ],
    ids=["gif", "pdf", "svg", "html", "zip", "exe", "zeros", "empty"],
)
def test_what_is_no_photo_is_refused_by_its_content(content: bytes) -> None:
    with pytest.raises(PhotoError):
        strip_photo(content)


def test_of_a_file_that_is_two_things_only_the_photo_is_kept() -> None:
    photo = noise(1)
    said = len(SCRIPT) + 2
    comment = b"\xff\xfe" + said.to_bytes(2, "big") + SCRIPT
    both = photo[:2] + comment + photo[2:] + SCRIPT + b"PK\x05\x06" + bytes(18)
    kept = strip_photo(both)
    assert SCRIPT not in kept
    assert b"PK\x05\x06" not in kept
    assert kept == strip_photo(photo)


def test_a_photo_that_claims_too_much_is_not_decoded() -> None:
    photo = noise(1)
    at = photo.index(b"\xff\xc0")
    claims = photo[: at + 5] + b"\xff\xff\xff\xff" + photo[at + 9 :]
    assert LIMIT_PX < 65_535**2
    with pytest.raises(PhotoError, match="65535 x 65535"):
        strip_photo(claims)
