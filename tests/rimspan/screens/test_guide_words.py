"""What the guide to the next photo says."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assess.view_guide import Guide, Sight
from rimspan.screens.guide_words import (
    alone_words,
    gain_words,
    lacking_words,
    next_words,
    way_words,
)

TAKEN = (Sight(0.0, 0.0), Sight(20.0, 0.0))
GUIDE = Guide(TAKEN, Sight(-30.0, 20.0), (1.67, 0.352), (1.21, 0.247), (), straight=True)


@pytest.mark.parametrize(
    ("sight", "words"),
    [
        (Sight(20.0, 0.0), "from above, about 20°"),
        (Sight(-30.0, 20.0), "from below, about 30°, and a step to the right, about 20°"),
        (Sight(0.0, -20.0), "level, and a step to the left, about 20°"),
    ],
)
def test_a_place_is_told_in_words(sight: Sight, words: str) -> None:
    assert way_words(sight) == words
    assert next_words(replace(GUIDE, next=sight)) == f"Next photo: {words}."


def test_before_any_photo_the_first_one_is_square_on() -> None:
    none = Guide((), None, (None, None), (None, None), (), straight=False)
    assert next_words(none).startswith("Begin square-on")
    assert gain_words(none) == ""


def test_what_a_photo_brings_is_told_with_two_digits_at_most() -> None:
    assert gain_words(GUIDE) == (
        "It would narrow the channel from within 1.7 mm to 1.2 mm with marks by hand, "
        "from 0.35 mm to 0.25 mm with snapped dots."
    )
    first = replace(GUIDE, u_mm=(None, None))
    assert gain_words(first).startswith("With it the channel can be told: foreseen within 1.2 mm")
    unknown = replace(first, next_u_mm=(None, None))
    assert "entry and exit need two photos each" in gain_words(unknown)
    last = replace(GUIDE, next=None, next_u_mm=GUIDE.u_mm)
    assert next_words(last) == "No other photo would bring much more."
    assert gain_words(last).startswith("Foreseen for the channel: within 1.7 mm")


def test_where_marks_by_hand_gain_nothing_over_one_photo_it_says_so() -> None:
    assert alone_words(GUIDE, None) == ""
    assert alone_words(GUIDE, 2.0) == ""
    said = alone_words(GUIDE, 0.9)
    assert "no better than the square-on one alone (0.90 mm)" in said
    assert "snapped: then within 0.35 mm" in said
    assert "headband" in alone_words(GUIDE, 0.3)


def test_dots_that_lack_a_second_photo_are_named() -> None:
    assert lacking_words(GUIDE) == ""
    two = replace(GUIDE, lacking=("A/exit", "tie: 2"))
    assert lacking_words(two) == (
        "Marked in one photo only: exit of A and spare dot 2. Each needs a second one."
    )
    many = replace(GUIDE, lacking=tuple(f"{label}/exit" for label in "ABCDEF"))
    assert "exit of D and 2 more." in lacking_words(many)
