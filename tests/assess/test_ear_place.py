"""The guessed place of an ear lies on the ear of every rendered sample."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from assess.ear_place import ear_place_px
from assess.reading import PhotoReading, read_view
from calibration.card import FRAME
from calibration.lens import Camera
from calibration.photo import Photo, read_photo
from calibration.pose import PlaneFit
from sample_images.sets import SAMPLES, sample_set

ROOT = Path(__file__).resolve().parents[2]


def photo(ear: str, name: str = "square-on") -> tuple[Photo, dict]:
    place = ROOT / "sample_images" / ear / f"{name}.jpg"
    truth = json.loads(place.with_suffix(".truth.json").read_text("utf-8"))
    return read_photo(place.read_bytes()), truth


def off_mm(reading: PhotoReading, truth: dict) -> float:
    """Return how far the place is from the rendered placements' middle, in the card's plane."""
    assert reading.fit is not None
    assert reading.target_px is not None
    dots = [p["px"] for each in truth["placements"].values() for p in each["points"].values()]
    at = reading.fit.on_plane(np.array([reading.target_px, np.mean(dots, axis=0)]))
    return float(np.linalg.norm(at[0] - at[1]))


@pytest.mark.parametrize(
    ("ear", "name"),
    [(ear, name) for ear in SAMPLES for name in sample_set(ear).sights],
)
def test_the_place_is_on_the_ear(ear: str, name: str) -> None:
    """The placements are on the rim, the ear's middle some 25 mm from there: an ear is 60 long."""
    pixels, truth = photo(ear, name)
    assert off_mm(read_view(pixels, file="x", side=truth["side"]), truth) < 32.0


def test_without_a_side_the_photos_middle_counts() -> None:
    pixels, _ = photo("flat")
    width, height = pixels.size
    assert read_view(pixels, file="x").target_px == ((width - 1) / 2, (height - 1) / 2)


def test_in_a_mirrored_photo_it_is_given_as_the_photo_is_stored() -> None:
    pixels, truth = photo("flat")
    turned = Photo(np.ascontiguousarray(pixels.pixels[:, ::-1]), pixels.facts)
    plain = read_view(pixels, file="x", side=truth["side"]).ear_px
    mirrored = read_view(turned, file="x", side=truth["side"]).ear_px
    assert plain is not None
    assert mirrored is not None
    assert mirrored[0] == pytest.approx(pixels.size[0] - 1 - plain[0], abs=3.0)
    assert mirrored[1] == pytest.approx(plain[1], abs=3.0)


def test_a_place_beyond_the_photo_is_moved_to_its_edge() -> None:
    far_right = np.array([500.0, 0.0, 270.0])
    fit = PlaneFit(
        Camera(2000.0, 2000.0, 999.5, 749.5, ()), np.zeros(3), far_right, np.eye(8), 0.1, 58
    )
    x, y = ear_place_px(fit, FRAME, "left", (2000, 1500))
    assert x == 1999.0
    assert 0 < y < 1499
