"""Lines, signs and words on a photo: every dark line has a light casing, so it reads on any skin.

Lengths are pixels of the finished picture; everything is drawn larger and brought down once,
which smooths the edges.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from functools import lru_cache

from PIL import Image, ImageDraw, ImageFont

Point = tuple[float, float]
Box = tuple[float, float, float, float]
Colour = tuple[int, int, int, int]

INK: Colour = (16, 38, 74, 255)
"""The one accent: 13 to 1 on the casing, over 4 to 1 on a mid skin tone."""
LIGHT: Colour = (207, 227, 251, 255)
"""The accent's light tone: what stands out of the skin."""
BAND: Colour = (59, 120, 187, 255)
"""The accent's middle tone: a stretch that may be used."""
SOFT: Colour = (92, 111, 143, 255)
CAUTION: Colour = (150, 40, 20, 255)
CASING: Colour = (255, 255, 255, 225)
PAPER: Colour = (255, 255, 255, 255)

OVERSAMPLING = 2


@lru_cache(maxsize=16)
def font(size: float) -> ImageFont.FreeTypeFont:
    """Return Pillow's own font at a size, px: the same on every machine."""
    found = ImageFont.load_default(size)
    if not isinstance(found, ImageFont.FreeTypeFont):
        raise RuntimeError("Pillow was built without FreeType")
    return found


class Canvas:
    """A picture that is drawn on in pixels of the finished size."""

    def __init__(self, picture: Image.Image, width: int, height: int) -> None:
        self.width, self.height = width, height
        self._image = Image.new("RGBA", (width * OVERSAMPLING, height * OVERSAMPLING), PAPER)
        self._image.paste(picture, (0, 0))
        self._draw = ImageDraw.Draw(self._image, "RGBA")

    @staticmethod
    def inner_size(width: int, height: int) -> tuple[int, int]:
        """Return the size, px, that a picture pasted into the canvas must have."""
        return width * OVERSAMPLING, height * OVERSAMPLING

    def finished(self) -> Image.Image:
        """Return the picture at its own size, without transparency."""
        size = (self.width, self.height)
        return self._image.convert("RGB").resize(size, Image.Resampling.BOX)

    def line(self, points: Sequence[Point], thick: float, colour: Colour = INK) -> None:
        """Draw an open line through the points, over its casing."""
        self._stroke(points, thick + 4.0, CASING)
        self._stroke(points, thick, colour)

    def dashed(self, points: Sequence[Point], thick: float, dash: float = 16.0) -> None:
        """Draw an open dashed line through the points; its casing goes all along."""
        self._stroke(points, thick + 4.0, CASING)
        for piece in _dashes(points, dash):
            self._stroke(piece, thick, INK)

    def polygon(self, points: Sequence[Point], fill: Colour = INK, edge: float = 0.0) -> None:
        """Fill a shape, over its casing; ``edge`` is how thick a line in ink goes round it."""
        closed = [*points, points[0], points[1]]
        self._stroke(closed, 6.0 + edge, CASING)
        self._draw.polygon([self._big(point) for point in points], fill=fill)
        if edge:
            self._stroke(closed, edge, INK)

    def ring(self, centre: Point, radius: float) -> None:
        """Draw a ring."""
        self.line([_on_circle(centre, radius, 2 * math.pi * i / 36) for i in range(37)], 2.0)

    def cup(self, centre: Point, radius: float) -> None:
        """Draw the lower half of a circle whose bottom is the point."""
        middle = (centre[0], centre[1] - radius)
        self.line([_on_circle(middle, radius, math.pi * i / 18) for i in range(19)], 3.0)

    def box(self, box: Box, fill: Colour, edge: Colour | None = None) -> None:
        """Fill a rectangle with round corners."""
        corners = [*self._big(box[:2]), *self._big(box[2:])]
        thick = 2 * OVERSAMPLING if edge else 0
        self._draw.rounded_rectangle(corners, 6 * OVERSAMPLING, fill, edge, thick)

    def text(self, at: Point, words: str, size: float, colour: Colour = INK) -> None:
        """Write words from their top-left corner."""
        self._draw.text(self._big(at), words, colour, font(size * OVERSAMPLING))

    def across(self, words: str, area: Box) -> None:
        """Write words large and half transparent across an area, rising to the right."""
        left, top, right, bottom = (int(value * OVERSAMPLING) for value in area)
        width, height = right - left, bottom - top
        angle = math.degrees(math.atan2(height, width)) * 0.7
        size = 0.8 * math.hypot(width, height) / text_width(words, 1000.0) * 1000.0
        layer = Image.new("RGBA", (width, height), (255, 255, 255, 0))
        ImageDraw.Draw(layer).text(
            (width / 2, height / 2),
            words,
            (*CAUTION[:3], 78),
            font(size),
            anchor="mm",
            stroke_width=2 * OVERSAMPLING,
            stroke_fill=(255, 255, 255, 90),
        )
        turned = layer.rotate(angle, Image.Resampling.BICUBIC)
        self._image.alpha_composite(turned, (left, top))

    def _big(self, point: Sequence[float]) -> Point:
        return point[0] * OVERSAMPLING, point[1] * OVERSAMPLING

    def _stroke(self, points: Sequence[Point], thick: float, colour: Colour) -> None:
        big = [self._big(point) for point in points]
        wide = max(1, round(thick * OVERSAMPLING))
        self._draw.line(big, colour, wide, joint="curve")
        if colour[3] == 255:
            for x, y in (big[0], big[-1]):
                r = wide / 2
                self._draw.ellipse((x - r, y - r, x + r, y + r), colour)


def text_width(words: str, size: float) -> float:
    """Return how wide words are at a size, px."""
    return float(font(size).getlength(words))


def wrapped(words: str, size: float, width: float) -> list[str]:
    """Return the words in lines no wider than ``width`` px; a longer word stands alone, cut."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(clipped(word, size, width))
    return lines


def clipped(words: str, size: float, width: float) -> str:
    """Return the words, cut with an ellipsis where they are wider than ``width`` px."""
    if text_width(words, size) <= width:
        return words
    while words and text_width(words + "…", size) > width:
        words = words[:-1]
    return words + "…"


def _on_circle(centre: Point, radius: float, angle: float) -> Point:
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def _dashes(points: Sequence[Point], dash: float) -> list[list[Point]]:
    """Return the drawn pieces of a dashed line, each a polyline."""
    pieces: list[list[Point]] = []
    travelled = 0.0
    for start, end in itertools.pairwise(points):
        length = math.dist(start, end)
        done = 0.0
        while done < length:
            phase = travelled % (2 * dash)
            step = min(length - done, (dash if phase < dash else 2 * dash) - phase + 1e-6)
            if phase < dash:
                a, b = (_between(start, end, t / length) for t in (done, done + step))
                pieces.append([a, b])
            done += step
            travelled += step
    return pieces


def _between(start: Point, end: Point, part: float) -> Point:
    return start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])
