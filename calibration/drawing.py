"""A card as shapes: rectangles, a triangle and words, the same for every file format.

Millimetres in the card's frame.  Later shapes cover earlier ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from calibration.card import Card, Rect

BORDER_BITS = 1


@dataclass(frozen=True, slots=True)
class Box:
    """A filled rectangle, black or white."""

    rect: Rect
    black: bool


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text with its baseline's left end, its height (mm) and turn (deg)."""

    at_mm: tuple[float, float]
    text: str
    size_mm: float
    turned: bool = False


def pattern(card: Card) -> Iterator[Box]:
    """Yield the ChArUco pattern: black squares, and markers on the white ones."""
    x0, y0 = card.board_origin_mm
    ids = iter(card.marker_ids)
    for row in range(card.rows):
        for column in range(card.columns):
            black = (row + column) % 2 == 0
            marker = None if black else next(ids)
            if not card.is_printed(column, row):
                continue
            left, top = x0 + column * card.square_mm, y0 + row * card.square_mm
            if marker is None:
                yield Box((left, top, left + card.square_mm, top + card.square_mm), black=True)
            else:
                yield from _marker(card, marker, left, top)


def _marker(card: Card, marker: int, left: float, top: float) -> Iterator[Box]:
    bits = _bits(card.dictionary, marker)
    cell = card.marker_mm / (len(bits) + 2 * BORDER_BITS)
    gap = (card.square_mm - card.marker_mm) / 2
    x, y = left + gap, top + gap
    yield Box((x, y, x + card.marker_mm, y + card.marker_mm), black=True)
    for i, line in enumerate(bits):
        for j, white in enumerate(line):
            if white:
                at = x + (j + BORDER_BITS) * cell, y + (i + BORDER_BITS) * cell
                yield Box((*at, at[0] + cell, at[1] + cell), black=False)


def _bits(dictionary: str, marker: int) -> list[list[bool]]:
    """Return a marker's inner cells, True for white."""
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    side = int(known.markerSize)
    picture = cv2.aruco.generateImageMarker(known, marker, side + 2 * BORDER_BITS)
    inner = np.asarray(picture)[BORDER_BITS:-BORDER_BITS, BORDER_BITS:-BORDER_BITS]
    return [[bool(value > 0) for value in line] for line in inner]


def check_bars(card: Card) -> Iterator[Box]:
    """Yield the two check bars; their outer edges are the nominal length apart."""
    for bar in card.check_bars_mm:
        yield Box(bar, black=True)


def arrow(card: Card) -> Iterator[Box]:
    """Yield an arrow that points up, as steps of one tenth of a millimetre."""
    x, y = card.arrow_tip_mm
    steps, step = 10, 0.1
    for i in range(steps):
        half = 0.08 * (i + 1)
        yield Box((x - half, y + i * step, x + half, y + (i + 1) * step), black=True)
    yield Box((x - 0.2, y + steps * step, x + 0.2, y + steps * step + 0.7), black=True)


def printed(card: Card) -> list[Box]:
    """Return everything printed on the card's body but words."""
    return [*pattern(card), *check_bars(card), *arrow(card)]
