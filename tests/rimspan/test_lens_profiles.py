"""Lens profiles that a studio keeps: whose photo they fit, and whose they don't."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import Any

import pytest
from PIL import Image

from assess.errors import NotMeasurableError
from assess.reading import read_view
from calibration.photo import CaptureFacts, Photo, read_photo
from rimspan.clientfile import ClientFile
from rimspan.lens_profiles import (
    LensRefusedError,
    camera_for,
    forget_profile,
    keep_profile,
    kept_profiles,
    lens_from,
    lens_sentence,
    profile_for,
)
from rimspan.screens.lens_parts import checked, kept_words
from tests.calibration.invented_exif import invented_exif
from tests.rimspan.conftest import FOCAL_PX, card_photo

TURNS = ((24.0, 0.0), (-24.0, 6.0), (0.0, 24.0), (5.0, -24.0))


def by_phone(turned_deg: tuple[float, float]) -> bytes:
    """Return a photo of the card with the EXIF of a phone that doesn't exist."""
    stream = io.BytesIO()
    with Image.open(io.BytesIO(card_photo(turned_deg=turned_deg))) as picture:
        picture.save(stream, "JPEG", quality=95, exif=invented_exif())
    return stream.getvalue()


@pytest.fixture(scope="module")
def photos() -> list[tuple[str, Photo]]:
    return [(f"{i}.jpg", read_photo(by_phone(turn))) for i, turn in enumerate(TURNS)]


@pytest.fixture(scope="module")
def profile(photos: list[tuple[str, Photo]]) -> dict[str, Any]:
    return lens_from(photos)[1]


@pytest.fixture
def file(tmp_path: Any) -> ClientFile:
    return ClientFile.open(str(tmp_path / "store"))


def test_the_same_phone_lens_and_size_is_known_again(
    file: ClientFile, photos: list[tuple[str, Photo]], profile: dict[str, Any]
) -> None:
    assert kept_profiles(file) == []
    keep_profile(file, profile, "A. Piercer")
    keep_profile(file, profile, "A. Piercer")
    profiles = kept_profiles(file)
    assert len(profiles) == 1
    facts = photos[0][1].facts
    camera = camera_for(profiles, facts)
    assert camera is not None
    assert camera.fx == pytest.approx(FOCAL_PX, rel=0.003)
    assert "measured with the lens profile of Invented Optics Sample 12" in lens_sentence(
        profiles, "a.jpg", facts
    )
    assert "Invented Optics Sample 12" in kept_words(profiles[0])
    forget_profile(file, profiles[0]["taken_with"])
    assert kept_profiles(file) == []


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"digital_zoom": 2.0}, "was zoomed 2 times"),
        ({"width": 1200, "height": 1200}, "is 1200 x 1200 pixels: cropped"),
        ({"focal_35mm": 52.0}, "has another focal length"),
        ({"focal_mm": 2.2}, "has another focal length"),
        ({"lens": "wide"}, "another lens"),
        ({"model": "Sample 13"}, ""),
        ({"model": None}, ""),
    ],
)
def test_zoomed_cropped_and_other_photos_are_not_matched(
    photos: list[tuple[str, Photo]], profile: dict[str, Any], change: dict[str, Any], why: str
) -> None:
    facts: CaptureFacts = replace(photos[0][1].facts, **change)
    assert profile_for([profile], facts) is None
    assert camera_for([profile], facts) is None
    said = lens_sentence([profile], "a.jpg", facts)
    assert why in said if why else said == ""
    if why:
        assert "isn't used" in said


def test_by_the_standard_a_zoom_of_0_is_none(
    photos: list[tuple[str, Photo]], profile: dict[str, Any]
) -> None:
    """CIPA DC-008: a DigitalZoomRatio of 0 means that no digital zoom was used."""
    assert profile_for([profile], replace(photos[0][1].facts, digital_zoom=0.0)) is not None


def test_a_card_that_contradicts_the_profile_says_so(
    photos: list[tuple[str, Photo]], profile: dict[str, Any]
) -> None:
    taken = profile["camera"]
    longer = {**profile, "camera": {**taken, "fx": 1.06 * taken["fx"], "fy": 1.06 * taken["fy"]}}
    for kept, alarmed in ((profile, False), (longer, True)):
        camera = camera_for([kept], photos[0][1].facts)
        reading = read_view(photos[0][1], file="a.jpg", camera=camera)
        assert any(f.code == "lens_contradicted" for f in reading.flags) == alarmed


def test_photos_that_do_not_name_their_phone_make_no_kept_profile(
    file: ClientFile, profile: dict[str, Any]
) -> None:
    nameless = {**profile, "taken_with": {**profile["taken_with"], "model": None}}
    with pytest.raises(LensRefusedError, match="which phone took them"):
        keep_profile(file, nameless)


def test_photos_of_two_sizes_or_without_a_card_are_refused(
    photos: list[tuple[str, Photo]],
) -> None:
    name, photo = photos[0]
    other = Photo(photo.pixels, replace(photo.facts, digital_zoom=3.0))
    with pytest.raises(LensRefusedError, match="another phone, lens, zoom or size"):
        lens_from([*photos, ("zoomed.jpg", other)])
    blank = Photo(photo.pixels * 0 + 128, photo.facts)
    with pytest.raises(NotMeasurableError):
        lens_from([(name, blank)])


def test_the_table_check_tells_the_accuracy_or_why_not() -> None:
    lines = checked("card.jpg", card_photo(turned_deg=(24.0, 5.0)))
    assert any("5 to 20 mm: RMS 0.0" in line for line in lines)
    assert checked("no.jpg", b"nothing")[0].startswith("no.jpg: ")
