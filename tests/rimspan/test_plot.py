"""The picture: what is drawn where, the statement, and the same bytes every time."""

from __future__ import annotations

import copy
import io
from typing import Any

import numpy as np
import pytest
from PIL import Image

from assess.marks import Marks
from assess.measure import Measurement, measure
from assess.read_marks import parse_marks
from calibration.photo import Photo, PhotoError, read_photo
from rimspan import plot
from rimspan.drawing import INK
from rimspan.plot import WIDTH, plot_png

Given = tuple[Measurement, Marks, dict[str, Photo | PhotoError]]


@pytest.fixture(scope="module")
def measured(flat_document: dict[str, Any], flat_photo: bytes) -> Given:
    marks = parse_marks(flat_document)
    photos: dict[str, Photo | PhotoError] = {"flat.jpg": read_photo(flat_photo)}
    return measure(marks, photos, draws=2000), marks, photos


def confirmed(found: Measurement, name: str | None) -> Measurement:
    judgement = found.result.judgement.model_copy(update={"confirmed_by": name})
    return Measurement(found.result.model_copy(update={"judgement": judgement}), found.readings)


def picture(png: bytes) -> Image.Image:
    return Image.open(io.BytesIO(png)).convert("RGB")


def inked(image: Image.Image) -> np.ndarray:
    return (np.abs(np.asarray(image).astype(int) - INK[:3]) < 40).all(axis=2)


def test_the_same_measurement_gives_the_same_bytes(measured: Given) -> None:
    first = plot_png(*measured)
    assert first == plot_png(*measured)
    assert b"tIME" not in first
    assert b"tEXt" not in first


def test_the_picture_stands_over_its_words(measured: Given) -> None:
    with_words, bare = picture(plot_png(*measured)), picture(plot_png(*measured, with_words=False))
    assert with_words.width == bare.width == WIDTH
    assert with_words.height > bare.height + 150
    panel = with_words.crop((0, bare.height, WIDTH, with_words.height))
    assert inked(panel).any()


def test_nobody_confirmed_stands_across_the_picture(measured: Given) -> None:
    found, marks, photos = measured
    across = np.asarray(picture(plot_png(found, marks, photos, with_words=False))).astype(int)
    named = confirmed(found, "A. Piercer")
    clear = np.asarray(picture(plot_png(named, marks, photos, with_words=False))).astype(int)
    differing = (np.abs(across - clear).sum(axis=2) > 30).mean()
    assert 0.05 < differing < 0.5


def test_the_marks_are_drawn_at_their_places(measured: Given) -> None:
    found, marks, photos = measured
    named = confirmed(found, "A. Piercer")
    image = picture(plot_png(named, marks, photos, with_words=False))
    entry = marks.photos[0]
    frame = plot._frame(entry, found.readings["flat.jpg"], 0.0)
    dark = inked(image)
    placement = entry.placements[0]
    for point in (placement.entry, placement.exit, placement.below, entry.outer_rim[2]):
        x, y = frame.at(point)
        near = dark[int(y) - 7 : int(y) + 8, int(x) - 7 : int(x) + 8]
        assert near.any(), point


def test_the_crop_holds_every_mark_with_a_margin(measured: Given) -> None:
    found, marks, _ = measured
    entry = marks.photos[0]
    frame = plot._frame(entry, found.readings["flat.jpg"], 0.0)
    for point in plot._all_points(entry):
        x, y = frame.at(point)
        assert 60 < x < WIDTH - 60
        assert 60 < y < frame.height - 60


def test_the_scale_bar_is_ten_millimetres(measured: Given) -> None:
    """The photo is seen at 280 mm with 1500 px: 5.36 px to the millimetre."""
    found, marks, _ = measured
    reading = found.readings["flat.jpg"]
    frame = plot._frame(marks.photos[0], reading, 0.0)
    bar_in_photo = 10.0 / reading.mm_per_px(0.0)
    assert bar_in_photo == pytest.approx(10 * 1500 / 280, rel=0.03)
    shown = frame.at((100 + bar_in_photo, 100))[0] - frame.at((100, 100))[0]
    assert shown == pytest.approx(bar_in_photo * frame.zoom)


def test_long_names_and_odd_letters_make_a_picture(
    measured: Given, flat_document: dict[str, Any]
) -> None:
    document = copy.deepcopy(flat_document)
    document["photos"][0]["placements"][0]["label"] = "\u202e very long label 你好 " * 20
    document["examined"] = {}
    marks = parse_marks(document)
    found = measure(marks, measured[2], draws=2000)
    assert picture(plot_png(found, marks, measured[2])).width == WIDTH


def test_without_a_readable_photo_there_is_no_picture(measured: Given) -> None:
    found, marks, _ = measured
    with pytest.raises(ValueError, match="could be decoded"):
        plot_png(found, marks, {})
