"""Each station says in a word what it lacks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from assess.reading import PhotoReading
from assess.result import Result
from assess.scale import print_scale
from rimspan.screens.document import new_document, with_marks, with_photo
from rimspan.screens.stations import answer_word, marks_word, photos_word, sign_word, unread_word


def reading(tilt: float | None = None, refusal: str | None = None) -> PhotoReading:
    return PhotoReading(
        "a.jpg", (10, 10), None, None, print_scale(None, None), (), refusal, tilt_deg=tilt
    )


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        ([], "none yet"),
        ([reading(4.0)], "1 photo"),
        ([reading(4.0), reading(31.0)], "2 photos"),
        ([reading(28.0), reading(31.0)], "2 photos, none square-on"),
        ([reading(None, "No card."), reading(31.0)], "2 photos, none square-on"),
        ([reading(None, "No card.")], "1 photo, none usable"),
    ],
)
def test_photos(readings: list[PhotoReading], words: str) -> None:
    assert photos_word(readings, "left") == words


def test_marks() -> None:
    document = new_document("left")
    assert marks_word(document) == "no photo yet"
    document = with_photo(document, "a.jpg", "aa")
    assert marks_word(document) == "no outer rim and 4 more"
    lines = {"outer_rim": [[0, 0], [9, 0]], "inner_rim": [[0, 5], [9, 5]]}
    ends = {"label": "1", "entry": [4, 0], "exit": [4, 5]}
    document = with_marks(document, "a.jpg", lines | {"placements": [ends]})
    assert marks_word(document) == "no structure below"
    document = with_marks(document, "a.jpg", lines | {"placements": [ends | {"below": [4, 9]}]})
    assert marks_word(document) == "all set"


def test_an_answer_that_is_not_looked_for_has_a_word_too() -> None:
    document = new_document("left")
    assert unread_word(document) == "not yet"
    assert unread_word(with_photo(document, "a.jpg", "aa")) == "open to see"
    assert unread_word(document | {"caliper": {"1": {"channel_mm": 7.0}}}) == "open to see"


def test_answer(
    make_result: Callable[..., Result], make_placement: Callable[..., dict[str, Any]]
) -> None:
    assert answer_word(None) == "not yet"
    assert answer_word(make_result(make_placement(verdict="supports"))) == "supports"
    both = make_result(
        make_placement("a", verdict="supports"), make_placement("b", verdict="undecided")
    )
    assert answer_word(both) == "2 placements"


def test_sign() -> None:
    assert sign_word(None) == "not saved"
    assert sign_word(4) == "saved, no. 4"
