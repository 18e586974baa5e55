"""Signs and words on a photo."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PIL import Image

from rimspan.drawing import (
    CASING,
    CAUTION,
    INK,
    PAPER,
    SOFT,
    Canvas,
    Colour,
    _dashes,
    clipped,
    text_width,
    wrapped,
)

SKIN = (190, 140, 115)
"""A mid skin tone, as pixels."""


def canvas(width: int = 200, height: int = 100) -> Canvas:
    return Canvas(Image.new("RGB", Canvas.inner_size(width, height), SKIN), width, height)


def pixels(drawn: Canvas) -> np.ndarray:
    return np.asarray(drawn.finished()).astype(int)


def luminance(colour: tuple[int, ...]) -> float:
    linear = [
        c / 255 / 12.92 if c <= 10 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in colour[:3]
    ]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: tuple[int, ...], other: tuple[int, ...]) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.memory(source="WCAG 2.2, 1.4.3 and 1.4.11: 4.5 to 1 for text, 3 to 1 for graphics")
@pytest.mark.parametrize("colour", [INK, SOFT, CAUTION])
def test_words_and_signs_have_enough_contrast(colour: Colour) -> None:
    assert contrast(colour, PAPER) >= 4.5
    assert contrast(INK, SKIN) >= 3.0
    assert contrast(INK, CASING) >= 3.0


@pytest.mark.memory(source="WCAG 2.2, definition of contrast ratio: black on white is 21 to 1")
def test_the_measure_of_contrast() -> None:
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21.0)


def test_a_line_has_a_light_casing_on_both_sides() -> None:
    drawn = canvas()
    drawn.line([(20, 50), (180, 50)], 4.0)
    column = pixels(drawn)[:, 100].sum(axis=1)
    dark = np.flatnonzero(column < sum(SKIN) - 150)
    light = np.flatnonzero(column > sum(SKIN) + 60)
    assert dark.size >= 3
    assert light.min() < dark.min()
    assert light.max() > dark.max()


def test_nothing_is_drawn_away_from_the_line() -> None:
    drawn = canvas()
    drawn.line([(20, 50), (180, 50)], 4.0)
    assert (pixels(drawn)[:40] == SKIN).all()


def test_dashes_cover_half_the_line_whatever_its_corners() -> None:
    points = [(0.0, 0.0), (30.0, 0.0), (30.0, 50.0), (110.0, 50.0)]
    drawn = sum(math.dist(a, b) for a, b in _dashes(points, 16.0))
    assert drawn == pytest.approx(80.0, abs=0.1)


def test_words_are_wrapped_to_their_room() -> None:
    lines = wrapped("the rim supports this placement " * 8, 24, 300)
    assert len(lines) > 3
    assert all(text_width(line, 24) <= 300 for line in lines)
    assert " ".join(lines).split() == ("the rim supports this placement " * 8).split()


def test_a_word_too_long_is_cut_with_an_ellipsis() -> None:
    cut = clipped("W" * 100, 24, 200)
    assert cut.endswith("…")
    assert text_width(cut, 24) <= 200
    assert clipped("short", 24, 200) == "short"


def test_words_across_cover_the_picture_but_leave_it_visible() -> None:
    drawn = canvas(400, 300)
    drawn.across("not confirmed", (0, 0, 400, 300))
    changed = (pixels(drawn) != SKIN).any(axis=2)
    assert changed[:100, 250:].any()
    assert changed[200:, :150].any()
    assert 0.03 < changed.mean() < 0.5
