"""A kept photo's parts: for the chair that shows it, and of kept photos only."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from rimspan.clientfile import ClientFile
from rimspan.screens.chair import COOKIE
from rimspan.screens.photo_routes import PhotoParts, preview_url, routes, tiles_of
from tests.asgi import Browser

SIZE = (1700, 1100)


@pytest.fixture
def file(chairs: Any) -> ClientFile:
    return chairs.file


def tablet_of(chairs: Any, *shown: str, parts: PhotoParts | None = None) -> Browser:
    """Return a signed-in browser whose page shows photos."""
    tablet = chairs.browser(*routes(parts or PhotoParts(lambda: chairs.file)))
    for each in shown:
        chairs.sign_ins.show(chairs.pass_of(tablet), each)
    return tablet


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


def test_parts_are_upright(chairs: Any, sha256: str) -> None:
    tablet = tablet_of(chairs, sha256)
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
def test_nobody_sees_another_s_photo(chairs: Any, sha256: str, part: str) -> None:
    """Not without a pass, with one made up, signed out, or at a chair that shows another."""
    asked, parts = f"/photo/{sha256}/{part}", routes(PhotoParts(lambda: chairs.file))
    mine, other = tablet_of(chairs, sha256), tablet_of(chairs, "0" * 64)
    for cookie in ("", "garbled", f"{COOKIE}=guess", f"{COOKIE}=a.b.1.c", other.cookie):
        browser = chairs.browser(*parts, who=None)
        browser.cookie = cookie
        answer = browser.get(asked)
        assert (answer.status, answer.body) == (403, "sign in first")
        assert answer.headers["cache-control"] == "no-store"
    assert mine.get(asked).status == 200
    chairs.sign_ins.end(chairs.pass_of(mine))
    assert mine.get(asked).status == 403


@pytest.mark.parametrize("part", ["preview.jpg", "0_0.jpg"])
def test_parts_are_not_kept(chairs: Any, sha256: str, part: str) -> None:
    tablet = tablet_of(chairs, sha256)
    answer = tablet.get(f"/photo/{sha256}/{part}")
    headers = answer.headers
    assert answer.status == 200
    assert headers["cache-control"] == "private, no-store"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["x-content-type-options"] == "nosniff"
    assert tablet.get(f"/photo/{sha256}/{part}", "POST").status == 405


@pytest.mark.parametrize("path", ["{sha}/9_9.jpg", "{other}/0_0.jpg", "{other}/preview.jpg"])
def test_what_is_not_there_is_not_found(chairs: Any, sha256: str, path: str) -> None:
    tablet = tablet_of(chairs, sha256, "0" * 64, "..", sha256.upper(), "photo")
    for other in ("0" * 64, "..", sha256.upper(), "photo"):
        asked = "/photo/" + path.format(sha=sha256, other=other)
        assert tablet.get(asked).status == 404


@pytest.mark.parametrize("by_another_program", [False, True])
def test_an_erased_client_s_photo_is_served_and_held_no_more(
    chairs: Any, file: ClientFile, sha256: str, tmp_path: Path, by_another_program: bool
) -> None:
    parts = PhotoParts(lambda: file)
    file.when_gone.append(parts.forget)
    tablet = tablet_of(chairs, sha256, parts=parts)
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
