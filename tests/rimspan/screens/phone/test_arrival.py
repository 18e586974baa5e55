"""Files become photos of the draft: names made harmless, each refused one said."""

from __future__ import annotations

import io
from typing import Any

import pillow_heif
import pytest
from PIL import Image

from rimspan.clientfile import UnknownError
from rimspan.screens.phone.arrival import LONGEST_NAME, Consultation, Sent, plain_name, take_in


@pytest.mark.parametrize(
    ("came", "kept"),
    [
        ("image.jpg", "image.jpg"),
        ("../../etc/passwd", "passwd"),
        ("C:\\photos\\a b.jpg", "a b.jpg"),
        ("line\nbreak\x00.jpg", "linebreak.jpg"),
        ("  ", "photo"),
        ("folder/", "photo"),
        ("", "photo"),
    ],
)
def test_names_are_made_harmless(came: str, kept: str) -> None:
    assert plain_name(came) == kept


def test_a_long_name_keeps_its_end() -> None:
    assert plain_name("x" * 300 + ".jpg") == "x" * (LONGEST_NAME - 4) + ".jpg"


def test_photos_of_one_name_are_told_apart(studio: Any, jpeg: Any) -> None:
    """A phone's camera calls every picture the same."""
    files = [Sent("image.jpg", jpeg(1)), Sent("image.jpg", jpeg(2)), Sent("image.jpg", jpeg(1))]
    brought = take_in(studio.where, files)
    assert studio.names == ["image.jpg", "image (2).jpg"]
    assert len(brought.kept) == 3
    assert brought.refused == ()


def test_refused_files_are_said_with_their_name(studio: Any, jpeg: Any) -> None:
    brought = take_in(studio.where, [Sent("a.jpg", b"text"), Sent("b.jpg", jpeg(1))])
    assert brought.kept == ("b.jpg",)
    (said,) = brought.refused
    assert said.startswith("a.jpg: The file is no JPEG")
    assert studio.names == ["b.jpg"]


def test_a_client_who_is_gone_is_no_photo_s_fault(studio: Any, jpeg: Any) -> None:
    nobody = Consultation(studio.file, "nobody", "left")
    with pytest.raises(UnknownError):
        take_in(nobody, [Sent("a.jpg", jpeg(1))])


def test_a_heic_from_the_phone_is_named_as_the_jpeg_that_is_kept(studio: Any) -> None:
    out = io.BytesIO()
    pillow_heif.from_pillow(Image.new("RGB", (64, 48), (180, 140, 120))).save(out)
    brought = take_in(studio.where, [Sent("IMG 1.heic", out.getvalue())])
    assert brought.refused == ()
    assert studio.names == ["IMG 1.jpg"]
