"""A photo's words say what its card says, on rendered samples whose names are the truth."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from assess.reading import PhotoReading, read_view
from assess.scale import print_scale
from assess.view_set import VIEWS, View
from calibration.photo import Photo, read_photo
from rimspan.screens.photo_words import (
    VIEW_WORDS,
    card_words,
    flags_shown,
    mirrored_words,
    seen_from,
    sharpness_words,
    view_of_words,
    view_words,
    views_words,
)
from rimspan.screens.stations import photos_word
from tests.assess.test_view_set import made

SIDE = "right"  # of the samples below
SAMPLES = Path(__file__).resolve().parents[3] / "sample_images" / "middling"


@cache
def sample(name: str, mirrored: bool = False) -> PhotoReading:
    photo = read_photo((SAMPLES / f"{name}.jpg").read_bytes())
    if mirrored:
        photo = Photo(np.ascontiguousarray(photo.pixels[:, ::-1]), photo.facts)
    return read_view(photo, file=f"{name}.jpg", side="right")


@cache
def as_asked(view: View) -> PhotoReading:
    """Return the photo of the demo's left ear from that view."""
    place = SAMPLES.with_name("pronounced") / f"{view.name}.jpg"
    return read_view(read_photo(place.read_bytes()), file=place.name, side="left")


def blind() -> PhotoReading:
    return PhotoReading("x.jpg", (9, 9), None, None, print_scale(None, None), (), "No card.")


def test_the_missing_views_are_named() -> None:
    assert views_words([], "left") == (
        "0 of 5 views. Missing: square-on, under 10°; from above, 50 to 60°; from behind the ear, "
        "40 to 50°; from the face side, 40 to 50°; from below, 50 to 60°."
    )
    straight = [sample(name) for name in ("square-on", "above-2", "below-2")]
    assert views_words(straight, SIDE) == (
        "3 of 5 views. Missing: from behind the ear, 40 to 50°; from the face side, 40 to 50°."
    )
    assert views_words([as_asked(view) for view in VIEWS], "left") == "All 5 views are there."
    taken = [made(*view.sight_deg("left")) for view in VIEWS]
    assert views_words(taken, "left") == "All 5 views are there."


def test_the_degrees_that_are_said_are_those_of_the_views() -> None:
    for view in VIEWS[1:]:
        _, *said = VIEW_WORDS[view.name]
        spans = sorted(re.findall(r"(\d+) to (\d+)°", " ".join(said)))
        angles = (view.rise_deg, view.behind_deg)
        told = [sorted(abs(each) for each in span) for span in angles if sum(span)]
        assert spans == sorted((f"{low:.0f}", f"{high:.0f}") for low, high in told)


@pytest.mark.parametrize(
    ("name", "words", "off_deg", "way"),
    [
        ("above-2", "from above, 50 to 60°", 55.0 - 33.0, "above"),
        ("below-1", "from below, 50 to 60°", 55.0 - 19.0, "below"),
    ],
)
def test_a_photo_says_which_view_it_is(name: str, words: str, off_deg: float, way: str) -> None:
    said = view_of_words(sample(name), SIDE)
    assert said.startswith(f"Counts as the view {words}, though taken about ")
    (off,) = re.findall(r"about (\d+)° from there", said)
    assert float(off) == pytest.approx(off_deg, abs=5.0)  # cards stand up to 4 degrees askew
    assert seen_from(sample(name)) == way


@pytest.mark.parametrize("view", VIEWS, ids=lambda view: view.name)
def test_a_photo_from_where_it_was_asked_for_says_no_more(view: View) -> None:
    assert view_of_words(as_asked(view), "left") == f"Counts as the view {view_words(view)}."
    assert not {"tilt", "tilt_over"} & {f.code for f in flags_shown(as_asked(view), "left")}
    way = {"square-on": "above", "behind": "the right", "front": "the left"}
    assert seen_from(as_asked(view)) == way.get(view.name, view.name)


def test_an_edge_of_what_is_asked_for_is_within_it_and_the_far_side_is_no_view() -> None:
    assert view_of_words(made(50.0, 5.0), "left") == "Counts as the view from above, 50 to 60°."
    assert view_of_words(made(0.0, 75.0), "left").startswith("None of the five views")


def test_over_20_degrees_a_photo_is_kept_but_not_measured_by_itself() -> None:
    (flag,) = (f for f in sample("above-2").flags if f.code == "tilt_over")
    assert sample("above-2").refusal is None
    assert flag.means == (
        "Over 20 degrees it isn't measured by itself; it is kept as one of several views."
    )
    assert flag in flags_shown(sample("above-2"), SIDE)  # not as aslant as is asked for
    assert not [f for f in sample("square-on").flags if f.code == "tilt_over"]


def test_mirrored_is_told_by_the_card() -> None:
    assert mirrored_words(sample("square-on")) == "not mirrored"
    assert mirrored_words(sample("square-on", mirrored=True)).startswith("mirrored: turned back")
    assert view_of_words(sample("above-1", mirrored=True), SIDE) == view_of_words(
        sample("above-1"), SIDE
    )
    assert mirrored_words(blind()) == "mirrored? can't tell yet"


def test_without_a_card_nothing_is_claimed() -> None:
    assert card_words(blind()) == "No card in this photo."
    assert view_of_words(blind(), SIDE) == "Which view it is can't be told yet."
    assert sharpness_words(blind()) == "pixel for pixel; sharpness can't be told here"
    assert seen_from(blind()) == "unknown"


def test_the_station_says_from_where_no_photo_is() -> None:
    square, above, below = (sample(name) for name in ("square-on", "above-1", "below-2"))
    assert photos_word([square], SIDE) == "1 photo"
    assert photos_word([square, above], SIDE) == "2 photos, none from below"
    assert photos_word([square, below], SIDE) == "2 photos, none from above"
    assert photos_word([square, above, below], SIDE) == "3 photos"
    assert photos_word([above, below], SIDE).startswith("2 photos, none")
