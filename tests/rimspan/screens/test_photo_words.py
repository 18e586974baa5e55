"""A photo's words say what its card says, on rendered samples whose names are the truth."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from assess.reading import PhotoReading, read_view
from assess.scale import print_scale
from assess.view_set import VIEWS
from calibration.photo import Photo, read_photo
from rimspan.screens.photo_words import (
    card_words,
    mirrored_words,
    seen_from,
    sharpness_words,
    step_words,
    view_of_words,
    views_words,
)
from rimspan.screens.stations import photos_word

SAMPLES = Path(__file__).resolve().parents[3] / "sample_images" / "middling"


@cache
def sample(name: str, mirrored: bool = False) -> PhotoReading:
    photo = read_photo((SAMPLES / f"{name}.jpg").read_bytes())
    if mirrored:
        photo = Photo(np.ascontiguousarray(photo.pixels[:, ::-1]), photo.facts)
    return read_view(photo, file=f"{name}.jpg", side="right")


def blind() -> PhotoReading:
    return PhotoReading("x.jpg", (9, 9), None, None, print_scale(None, None), (), "No card.")


def test_the_missing_views_are_named() -> None:
    assert views_words([]) == (
        "0 of 5 views. Missing: square-on, under 10°; from above, 25 to 35°; from above, "
        "40 to 50°; from below, 33 to 43°; from below, 45 to 55°."
    )
    some = [sample("square-on"), sample("above-1"), sample("below-2")]
    assert views_words(some) == (
        "3 of 5 views. Missing: from above, 40 to 50°; from below, 45 to 55°."
    )
    assert views_words([*some, sample("above-2"), sample("below-1")]) == "All 5 views are there."


def test_each_view_but_the_first_names_its_step_to_the_side() -> None:
    first, *others = VIEWS
    assert step_words(first) == ""
    said = [step_words(view) for view in others]
    right, left = ("<br>20 to 30° to the right", "<br>20 to 30° to the left")
    assert said == [right, left, left, right]


@pytest.mark.parametrize(
    ("name", "words", "way"),
    [
        ("above-2", "Counts as the view from above, 25 to 35°.", "above"),
        (
            "below-1",
            "Counts as the view from below, 33 to 43°, though taken from about 17°.",
            "below",
        ),
    ],
)
def test_a_photo_says_which_view_it_is(name: str, words: str, way: str) -> None:
    assert view_of_words(sample(name)) == words
    assert seen_from(sample(name)) == way


def test_over_20_degrees_a_photo_is_kept_but_not_measured_by_itself() -> None:
    (flag,) = (f for f in sample("above-2").flags if f.code == "tilt_over")
    assert sample("above-2").refusal is None
    assert flag.means == (
        "Over 20 degrees it isn't measured by itself; it is kept as one of several views."
    )
    assert not [f for f in sample("square-on").flags if f.code == "tilt_over"]


def test_mirrored_is_told_by_the_card() -> None:
    assert mirrored_words(sample("square-on")) == "not mirrored"
    assert mirrored_words(sample("square-on", mirrored=True)).startswith("mirrored: turned back")
    assert view_of_words(sample("above-1", mirrored=True)) == view_of_words(sample("above-1"))
    assert mirrored_words(blind()) == "mirrored? can't tell yet"


def test_without_a_card_nothing_is_claimed() -> None:
    assert card_words(blind()) == "No card in this photo."
    assert view_of_words(blind()) == "Which view it is can't be told yet."
    assert sharpness_words(blind()) == "pixel for pixel; sharpness can't be told here"
    assert seen_from(blind()) == "unknown"


def test_the_station_says_from_where_no_photo_is() -> None:
    square, above, below = (sample(name) for name in ("square-on", "above-1", "below-2"))
    assert photos_word([square]) == "1 photo"
    assert photos_word([square, above]) == "2 photos, none from below"
    assert photos_word([square, below]) == "2 photos, none from above"
    assert photos_word([square, above, below]) == "3 photos"
    assert photos_word([above, below]).startswith("2 photos, none")
