"""A card as shapes: boxes, polygons and words, the same list for every file format.

Millimetres in the card's frame.  Boxes add up: a black one counts 1, a white one inside it
takes 1 away, so neighbouring white cells leave no seam at any resolution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import cv2
import numpy as np

from calibration.card import Card, Rect

BORDER_BITS = 1
TICK_MM = 0.4
LINE_MM = 0.2


@dataclass(frozen=True, slots=True)
class Box:
    """A filled rectangle: black, or white within one black box."""

    rect: Rect
    black: bool = True


@dataclass(frozen=True, slots=True)
class Polygon:
    """A black polygon, its points in order, mm."""

    points_mm: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Words:
    """A line of text: where its baseline starts or has its middle, its size (mm to the em).

    A ``turned`` line reads upward.
    """

    at_mm: tuple[float, float]
    text: str
    size_mm: float
    bold: bool = False
    anchor: Literal["start", "middle"] = "start"
    turned: bool = False


Shape = Box | Polygon | Words


def pattern(card: Card) -> Iterator[Box]:
    """Yield the ChArUco pattern: black squares, and markers on the white ones."""
    x0, y0 = card.board_origin_mm
    ids = iter(card.marker_ids)
    for row in range(card.rows):
        for column in range(card.columns):
            marker = None if (row + column) % 2 == 0 else next(ids)
            if not card.is_printed(column, row):
                continue
            left, top = x0 + column * card.square_mm, y0 + row * card.square_mm
            if marker is None:
                yield Box((left, top, left + card.square_mm, top + card.square_mm))
            else:
                yield from _marker(card, marker, left, top)


def _marker(card: Card, marker: int, left: float, top: float) -> Iterator[Box]:
    bits = _bits(card.dictionary, marker)
    cell = card.marker_mm / (len(bits) + 2 * BORDER_BITS)
    gap = (card.square_mm - card.marker_mm) / 2
    x, y = left + gap, top + gap
    yield Box((x, y, x + card.marker_mm, y + card.marker_mm))
    for i, line in enumerate(bits):
        upper = y + (i + BORDER_BITS) * cell
        j = BORDER_BITS
        for white, run in groupby(line):
            count = len(list(run))
            if white:
                yield Box((x + j * cell, upper, x + (j + count) * cell, upper + cell), black=False)
            j += count


def _bits(dictionary: str, marker: int) -> list[list[bool]]:
    """Return a marker's inner cells, True for white."""
    known = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, dictionary))
    side = int(known.markerSize)
    picture = cv2.aruco.generateImageMarker(known, marker, side + 2 * BORDER_BITS)
    inner = np.asarray(picture)[BORDER_BITS:-BORDER_BITS, BORDER_BITS:-BORDER_BITS]
    return [[bool(value > 0) for value in line] for line in inner]


def check_bars(card: Card) -> Iterator[Box | Words]:
    """Yield both check bars: a thin line, an end stroke at each end, the length in words.

    The outer edges of a bar's end strokes are its nominal length apart.
    """
    across, down = card.check_bars_mm
    x0, y0, x1, y1 = across
    yield Box((x0, y0, x0 + TICK_MM, y1))
    yield Box((x1 - TICK_MM, y0, x1, y1))
    middle, size = (y0 + y1) / 2, 0.85 * (y1 - y0)
    half, centre = 2.6 * size, (x0 + x1) / 2
    for start, end in ((x0 + TICK_MM, centre - half), (centre + half, x1 - TICK_MM)):
        yield Box((start, middle - LINE_MM / 2, end, middle + LINE_MM / 2))
    length = card.check_bar_mm
    yield Words((centre, middle + 0.36 * size), f"{length[0]:g} mm", size, anchor="middle")
    yield from _bar_down(down, f"{length[1]:g} mm")


def _bar_down(bar: Rect, length: str) -> Iterator[Box | Words]:
    x0, y0, x1, y1 = bar
    yield Box((x0, y0, x1, y0 + TICK_MM))
    yield Box((x0, y1 - TICK_MM, x1, y1))
    middle, size, centre = (x0 + x1) / 2, 0.85 * (x1 - x0), (y0 + y1) / 2
    half = 2.6 * size if size > 1.0 else 0.0  # a narrower margin has no room for words
    if half:
        place = (middle + 0.36 * size, centre)
        yield Words(place, length, size, anchor="middle", turned=True)
    for start, end in ((y0 + TICK_MM, centre - half), (centre + half, y1 - TICK_MM)):
        yield Box((middle - LINE_MM / 2, start, middle + LINE_MM / 2, end))


def arrow(box: Rect) -> Iterator[Box | Polygon]:
    """Yield an arrow that points up and fills a box."""
    x0, y0, x1, y1 = box
    middle, shoulder = (x0 + x1) / 2, y0 + 0.55 * (y1 - y0)
    yield Polygon(((x0, shoulder), (middle, y0), (x1, shoulder)))
    shaft = 0.13 * (x1 - x0)
    yield Box((middle - shaft, shoulder, middle + shaft, y1))


def on_body(card: Card) -> list[Shape]:
    """Return everything printed on the card's body."""
    size = 2.0
    x0, y0, _, y1 = card.up_arrow_mm
    across, down = card.check_bar_mm
    left, base = card.board_origin_mm[0], card.body_mm[1] - 1.4
    words = [Words((x0 - 2.0 * size, (y0 + y1) / 2 + 0.36 * size), "UP", size, bold=True)]
    words.append(Words((left, base), card.id, size))
    if card.window_mm is None:
        bars = f"bars: {across:g} mm across, {down:g} mm down, over their ends"
        words.append(Words((card.body_mm[0] / 2 - 12.0, base), bars, size))
    return [*pattern(card), *check_bars(card), *arrow(card.up_arrow_mm), *words]


def on_tab(card: Card) -> list[Shape]:
    """Return what is printed on the holding tab, nothing where the card has none."""
    if card.tab_mm is None:
        return []
    x0, y0, x1, _ = card.tab_mm
    middle = (x0 + x1) / 2
    return [
        *arrow((middle - 2.2, y0 + 2.5, middle + 2.2, y0 + 9.0)),
        Words((middle, y0 + 14.5), "HOLD BY HERE", 3.4, bold=True, anchor="middle"),
        Words((middle, y0 + 19.5), card.id, 2.8, anchor="middle"),
    ]
