"""Several photos at once: each is kept, named once, refused by itself, and none is lost."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
import pillow_heif
import pytest
from PIL import Image
from streamlit.testing.v1 import AppTest

from calibration.photo import is_heic, read_photo
from rimspan.screens.phone.arrival import kept_name


def heic(flat_photo: bytes, orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    with Image.open(io.BytesIO(flat_photo)) as picture:
        turned = picture.rotate(90, expand=True) if orientation == 6 else picture.copy()
    pillow_heif.from_pillow(turned).save(out, quality=95, exif=exif.tobytes())
    return out.getvalue()


@pytest.fixture(scope="module")
def turned_heic(flat_photo: bytes) -> bytes:
    """Return the photo of the card stored on its side, to be turned back when it is read."""
    return heic(flat_photo, orientation=6)


def test_several_photos_of_several_kinds_come_in_at_once(
    visit: Any, flat_photo: bytes, turned_heic: bytes
) -> None:
    visit.consult().open("photos")
    uploader = visit.at.file_uploader[0]
    uploader.upload("flat.jpg", flat_photo, "image/jpeg")
    uploader.upload("text.png", b"no picture", "image/png")
    uploader.upload("IMG_1.HEIC", turned_heic, "image/heic")
    uploader.upload("cut.heic", turned_heic[:4000], "image/heic")
    visit.run()
    photos = visit.draft()["photos"]
    assert [photo["file"] for photo in photos] == ["flat.jpg", "IMG_1.jpg"]
    assert "text.png: The file is no JPEG, PNG or HEIC picture." in visit.words
    assert "cut.heic: The photo is cut short or damaged." in visit.words
    assert visit.words.count("58 of 58 corners.") == 2
    assert "1 of 5 views. Missing: from above, 50 to 60°" in visit.words
    assert not visit.at.file_uploader[0].value
    kept = visit.file.photo_bytes(photos[1]["x_sha256"])
    assert not is_heic(kept)
    assert read_photo(kept).size == read_photo(flat_photo).size
    gap = read_photo(kept).pixels.astype(int) - read_photo(flat_photo).pixels
    assert np.sqrt(np.mean(gap**2)) < 4.0  # upright, but for the HEIC's own loss


def test_the_same_photo_twice_is_one_photo(visit: Any, flat_photo: bytes) -> None:
    visit.consult().open("photos")
    for name in ("a.jpg", "b.jpg"):
        visit.at.file_uploader[0].upload(name, flat_photo, "image/jpeg")
    visit.run()
    assert [photo["file"] for photo in visit.draft()["photos"]] == ["a.jpg"]


def test_photos_go_to_the_ear_that_is_open(visit: Any, flat_photo: bytes) -> None:
    visit.consult("left").open("photos").press("Right ear instead")
    assert "Photos of the right ear" in visit.words
    visit.at.file_uploader[0].upload("flat.jpg", flat_photo, "image/jpeg")
    visit.run()
    assert [photo["file"] for photo in visit.draft("right")["photos"]] == ["flat.jpg"]
    assert not visit.draft("left").get("photos")


def interrupted() -> None:
    """Hand over three photos and be stopped before the second; then take in the rest."""
    import streamlit as st

    from rimspan.screens import intake, state

    class Handed:
        def __init__(self, name: str) -> None:
            self.name = name

        def getvalue(self) -> bytes:
            return st.session_state["bytes"][self.name]

    class StoppedError(Exception):
        pass

    def tell(share: float, words: str) -> None:
        said.append(words)
        if "2 of 3" in words:
            raise StoppedError

    said: list[str] = []
    intake.wait([Handed(name) for name in st.session_state["bytes"]])
    try:
        intake.take_in_waiting(tell)
    except StoppedError:
        st.session_state["after the stop"] = [p["file"] for p in state.document()["photos"]]
        st.session_state["waiting"] = [upload.name for upload in intake.waiting()]
    if st.session_state["give up"]:
        intake.stop()
    intake.take_in_waiting(lambda share, words: None)
    st.session_state["in the end"] = [p["file"] for p in state.document()["photos"]]


@pytest.mark.parametrize("give_up", [False, True])
def test_a_run_that_is_stopped_loses_nothing(visit: Any, flat_photo: bytes, give_up: bool) -> None:
    visit.consult()
    names = ["a.png", "b.png", "c.png"]
    at = AppTest.from_function(interrupted, default_timeout=60)
    shades = {}
    for i, name in enumerate(names):
        out = io.BytesIO()
        Image.new("RGB", (40, 30), (50 * i, 90, 90)).save(out, "PNG")
        shades[name] = out.getvalue()
    for key, value in (
        ("client", visit.client),
        ("side", "left"),
        ("bytes", shades),
        ("give up", give_up),
    ):
        at.session_state[key] = value
    at.run()
    assert not at.exception
    assert at.session_state["after the stop"] == ["a.png"]
    assert at.session_state["waiting"] == ["b.png", "c.png"]
    assert at.session_state["in the end"] == (["a.png"] if give_up else names)


@pytest.mark.parametrize(
    ("name", "kept"),
    [("IMG_1.HEIC", "IMG_1.jpg"), ("photo.heif", "photo.jpg"), ("bare", "bare.jpg")],
)
def test_what_is_kept_of_a_heic_is_called_a_jpeg(name: str, kept: str) -> None:
    data = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"
    assert kept_name(name, data) == kept
    assert kept_name(name, b"\xff\xd8\xff") == name
