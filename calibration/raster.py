"""Shapes -> how much of each pixel they cover.

Pixel (i, j) covers i*25.4/dpi to (i+1)*25.4/dpi mm from the origin.  Boxes are exact in area,
so an edge lies where it is and not on a pixel; words and polygons are good to a sixteenth.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable
from functools import cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pillow
from PIL import ImageDraw, ImageFont

from calibration.card import Rect
from calibration.drawing import Box, Polygon, Shape, Words

Cover = NDArray[np.float32]

FINE = 16


@cache
def font_file(bold: bool) -> bytes:
    """Return Bitstream Vera Sans as a TrueType file, which comes with the PDF library."""
    name = "VeraBd.ttf" if bold else "Vera.ttf"
    return resources.files("reportlab").joinpath("fonts", name).read_bytes()


def cover(shapes: Iterable[Shape], size_px: tuple[int, int], dpi: float) -> Cover:
    """Return the share of each pixel that is black, (height, width), 0 to 1."""
    width, height = size_px
    ink = np.zeros((height, width), dtype=np.float32)
    for shape in shapes:
        if isinstance(shape, Box):
            _add_box(ink, shape.rect, 1.0 if shape.black else -1.0, dpi)
        elif isinstance(shape, Polygon):
            _add_polygon(ink, shape, dpi)
        else:
            _add_words(ink, shape, dpi)
    return ink


def _span(low: float, high: float, count: int, dpi: float) -> tuple[slice, NDArray[np.float64]]:
    """Return the pixels that a stretch touches, and how much of each it covers."""
    start, end = low * dpi / 25.4, high * dpi / 25.4
    first, last = max(0, math.floor(start)), min(count, math.ceil(end))
    pixel = np.arange(first, last, dtype=np.float64)
    share = np.minimum(pixel + 1, end) - np.maximum(pixel, start)
    return slice(first, last), np.clip(share, 0.0, 1.0)


def _add_box(ink: Cover, rect: Rect, weight: float, dpi: float) -> None:
    columns, across = _span(rect[0], rect[2], ink.shape[1], dpi)
    rows, down = _span(rect[1], rect[3], ink.shape[0], dpi)
    ink[rows, columns] += weight * np.outer(down, across)


def _add_polygon(ink: Cover, polygon: Polygon, dpi: float) -> None:
    points = np.asarray(polygon.points_mm) * dpi / 25.4 * FINE
    corner = np.floor(points.min(axis=0)).astype(int)
    width, height = np.ceil(points.max(axis=0)).astype(int) - corner + 1
    mask = Pillow.new("L", (int(width), int(height)))
    # A fine pixel's centre is half a fine pixel from its corner.
    places = [(float(x), float(y)) for x, y in points - corner - 0.5]
    ImageDraw.Draw(mask).polygon(places, fill=255)
    _add_mask(ink, np.asarray(mask), int(corner[0]), int(corner[1]))


def _add_words(ink: Cover, words: Words, dpi: float) -> None:
    scale = dpi / 25.4 * FINE
    font = ImageFont.truetype(
        io.BytesIO(font_file(words.bold)),
        words.size_mm * scale,
        layout_engine=ImageFont.Layout.BASIC,
    )
    anchor = "ls" if words.anchor == "start" else "ms"
    x0, y0, x1, y1 = (round(v) for v in font.getbbox(words.text, anchor=anchor))
    mask = Pillow.new("L", (x1 - x0, y1 - y0))
    ImageDraw.Draw(mask).text((-x0, -y0), words.text, fill=255, font=font, anchor=anchor)
    written = np.asarray(mask)
    if words.turned:  # a quarter turn to the left takes right to up and down to right
        written, (x0, y0) = np.rot90(written), (y0, -x1)
    at_x, at_y = (round(v * scale) for v in words.at_mm)
    _add_mask(ink, written, at_x + x0, at_y + y0)


def _add_mask(ink: Cover, mask: NDArray[np.uint8], x: int, y: int) -> None:
    """Add a mask of fine pixels whose first one is fine pixel (x, y)."""
    left, top = x // FINE, y // FINE
    height, width = mask.shape
    right, bottom = -(-(x + width) // FINE), -(-(y + height) // FINE)
    grid = np.zeros(((bottom - top) * FINE, (right - left) * FINE))
    grid[y - top * FINE :, x - left * FINE :][:height, :width] = mask
    share = grid.reshape(bottom - top, FINE, right - left, FINE).mean(axis=(1, 3)) / 255.0
    ink[top:bottom, left:right] += share
