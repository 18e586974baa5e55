"""A kept photo's parts: for a browser that opened the app, and of kept photos only."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route

from rimspan.clientfile import ClientFile
from rimspan.screens.photo_routes import PhotoParts, preview_url, routes, tiles_of
from rimspan.screens.serving import COOKIE, MIDDLEWARE
from tests.asgi import Browser

SIZE = (1700, 1100)


def tablet_of(file: ClientFile, parts: PhotoParts | None = None) -> Browser:
    """Return a browser that has not opened the app yet."""
    page = Route("/", lambda request: HTMLResponse("<p>app</p>"))
    answering = parts or PhotoParts(lambda: file)
    return Browser(Starlette(routes=[page, *routes(answering)], middleware=MIDDLEWARE))


@pytest.fixture
def file(tmp_path: Path) -> Iterator[ClientFile]:
    with ClientFile.open(tmp_path) as opened:
        yield opened


@pytest.fixture
def sha256(file: ClientFile) -> str:
    """An upright photo, stored lying on its side as phones do: white, its top left dark."""
    upright = Image.new("RGB", SIZE, "white")
    upright.paste((20, 30, 40), (0, 0, 400, 200))
    exif = Image.Exif()
    exif[0x0112] = 6  # the camera was turned: turn by 90 degrees to the right to see it
    out = io.BytesIO()
    upright.transpose(Image.Transpose.ROTATE_90).save(out, "JPEG", exif=exif, quality=95)
    client = file.create_client("Robin Example").id
    return file.add_photo(client, out.getvalue(), "side.jpg", "left").sha256


def picture(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)))


def test_parts_are_upright(file: ClientFile, sha256: str) -> None:
    tablet = tablet_of(file)
    tablet.get("/")
    answer = tablet.get(preview_url(sha256))
    told = tiles_of(sha256, SIZE)
    assert (answer.status, answer.headers["content-type"]) == (200, "image/jpeg")
    preview = picture(answer.data)
    assert [preview.shape[1], preview.shape[0]] == told["preview_size"] == [1600, 1035]
    beside = tablet.get(f"{told['tiles']}1_0.jpg")
    assert picture(beside.data).shape == (1024, SIZE[0] - 1024, 3)
    first = picture(tablet.get(f"{told['tiles']}0_0.jpg").data)
    for shown, scale in ((preview, 1600 / SIZE[0]), (first, 1.0)):
        for (x, y), dark in (((390, 190), True), ((410, 190), False), ((390, 210), False)):
            assert (shown[round(y * scale), round(x * scale)].mean() < 100) == dark


@pytest.mark.parametrize("part", ["preview.jpg", "0_0.jpg"])
def test_parts_are_for_who_opened_the_app_and_are_not_kept(
    file: ClientFile, sha256: str, part: str
) -> None:
    tablet = tablet_of(file)
    assert tablet.get(f"/photo/{sha256}/{part}").status == 403
    tablet.cookie = f"{COOKIE}=guess"
    assert tablet.get(f"/photo/{sha256}/{part}").status == 403
    tablet.get("/")
    answer = tablet.get(f"/photo/{sha256}/{part}")
    headers = answer.headers
    assert answer.status == 200
    assert headers["cache-control"] == "private, no-store"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["x-content-type-options"] == "nosniff"
    assert tablet.get(f"/photo/{sha256}/{part}", "POST").status == 405


@pytest.mark.parametrize("path", ["{sha}/9_9.jpg", "{other}/0_0.jpg", "{other}/preview.jpg"])
def test_what_is_not_there_is_not_found(file: ClientFile, sha256: str, path: str) -> None:
    tablet = tablet_of(file)
    tablet.get("/")
    for other in ("0" * 64, "..", sha256.upper(), "photo"):
        asked = "/photo/" + path.format(sha=sha256, other=other)
        assert tablet.get(asked).status == 404


@pytest.mark.parametrize("by_another_program", [False, True])
def test_an_erased_client_s_photo_is_served_and_held_no_more(
    file: ClientFile, sha256: str, tmp_path: Path, by_another_program: bool
) -> None:
    parts = PhotoParts(lambda: file)
    file.when_gone.append(parts.forget)
    tablet = tablet_of(file, parts)
    tablet.get("/")
    asked = [preview_url(sha256), f"/photo/{sha256}/0_0.jpg"]
    assert [tablet.get(path).status for path in asked] == [200, 200]
    (client,) = file.clients()
    if by_another_program:
        with ClientFile.open(tmp_path) as other:
            other.erase_client(client.id)
        assert [tablet.get(path).status for path in asked] == [404, 404]
    else:
        file.erase_client(client.id)
    made = []
    again = parts._photos.preview(sha256, lambda: made.append(1) or np.zeros((8, 8, 3), np.uint8))
    assert made == [1]  # nothing of it was held
    assert again
    assert [tablet.get(path).status for path in asked] == [404, 404]
