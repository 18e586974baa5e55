"""Both drawings of a placement as SVG and as PNG: the same shapes, the same words."""

from __future__ import annotations

import io
from collections.abc import Sequence
from html import escape
from math import ceil
from zlib import crc32

from PIL import Image

from assess.result import PlacementOut, Result
from rimspan.drawing import CAUTION, PAPER, SOFT, Canvas, wrapped
from rimspan.result_words import decided_words
from rimspan.two_sides import WINDOW_MM, Panel, Shape, caption, panels

WIDTH, PANEL_HEIGHT = 1600, 710
"""Of a PNG, px."""
PX_PER_MM = 27.0
MARGIN, TITLE, WORDS = 40.0, 30.0, 24.0
LINE = 1.3 * WORDS

SVG_MM = 12.0
"""Units of the SVG for a millimetre."""
SVG_WIDTH = 2 * ((WINDOW_MM[2] - WINDOW_MM[0]) * SVG_MM + 160.0)
SVG_HEIGHT = (WINDOW_MM[3] - WINDOW_MM[1]) * SVG_MM + 32.0
STROKES = {
    "line": "fill:none;stroke:currentColor;stroke-width:2",
    "dashed": "fill:none;stroke:currentColor;stroke-width:2;stroke-dasharray:8 6",
    "dotted": "fill:none;stroke:currentColor;stroke-width:1.5;stroke-dasharray:2 5",
    "hair": "fill:none;stroke:currentColor;stroke-width:1",
    "fill": "fill:currentColor;stroke:none",
    "soft": "fill:currentColor;fill-opacity:0.18;stroke:currentColor;stroke-width:1",
}
BY_SCHEME = (
    "<style>svg{color:#10264a;background:#fff}"
    "@media (prefers-color-scheme:dark){svg{color:#e6ecf5;background:#12161d}}</style>"
)
"""A file of its own has ink and ground of its own, light or dark as the system is."""


def label_heights(tops: Sequence[float], step: float) -> list[float]:
    """Return heights near ``tops``, in its order, at least ``step`` apart."""
    order = sorted(range(len(tops)), key=lambda i: tops[i])
    heights, last = [0.0] * len(tops), float("-inf")
    for i in order:
        last = heights[i] = max(tops[i], last + step)
    return heights


def sides_svg(found: PlacementOut, side: str) -> str:
    """Return both drawings as one SVG in the page's ink; empty where there is nothing to draw."""
    pair = panels(found, side)
    return "" if pair is None else _svg(_svg_pair(pair), caption(found), SVG_HEIGHT)


def sides_file(result: Result) -> str:
    """Return the drawings of all placements as an SVG of its own, with their words."""
    body, top, said = "", 0.0, [decided_words(result)]
    for found in result.placements:
        pair = panels(found, result.side)
        if pair is not None:
            body += f'<g transform="translate(0 {top:g})">{_svg_pair(pair)}</g>'
            top += SVG_HEIGHT
            said.insert(-1, caption(found))
    lines = [line for words in said for line in wrapped(words, 14, SVG_WIDTH - 40.0)]
    for line in lines:
        top += 20.0
        body += _svg_text(0.0, top, line, 14)
    return _svg(BY_SCHEME + body, " ".join(said), top + 12.0) + "\n"


def _svg(body: str, words: str, height: float) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {SVG_WIDTH:g} {height:g}" '
        f'role="img" aria-label="{escape(words)}" style="width:100%;max-width:1100px">{body}</svg>'
    )


def _svg_pair(pair: tuple[Panel, Panel]) -> str:
    return "".join(
        f'<g transform="translate({i * SVG_WIDTH / 2:g} 0)">{_svg_panel(panel)}</g>'
        for i, panel in enumerate(pair)
    )


def _svg_panel(panel: Panel) -> str:
    left, top, right, bottom = WINDOW_MM
    body = _svg_text(0.0, 16.0, panel.title, 15, "700")
    if panel.missing is not None:
        lines = wrapped(panel.missing, 14, 300)
        return body + "".join(_svg_text(0, 60 + 20 * i, line, 14) for i, line in enumerate(lines))
    clip = f"clip{crc32(repr(panel).encode()):x}"
    wide, high = (right - left) * SVG_MM, (bottom - top) * SVG_MM

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return (point[0] - left) * SVG_MM, (point[1] - top) * SVG_MM + 26.0

    drawn = "".join(_svg_shape(shape, [at(p) for p in shape.points]) for shape in panel.shapes)
    body += (
        f'<clipPath id="{clip}"><rect x="0" y="26" width="{wide:g}" height="{high:g}"/></clipPath>'
        f'<g clip-path="url(#{clip})">{drawn}</g>'
    )
    ends = [at(place) for _, place in panel.labels]
    for (words, _), (x, y), height in zip(
        panel.labels, ends, label_heights([y for _, y in ends], 17.0), strict=True
    ):
        body += (
            f'<path d="M{x + 8:.1f} {y:.1f} L{wide + 4:.1f} {height:.1f}" '
            f'style="{STROKES["hair"]};opacity:0.5"/>'
        )
        body += _svg_text(wide + 8.0, height + 4.0, words, 13)
    bar, foot = 5.0 * SVG_MM, high + 20.0
    body += f'<path d="M4 {foot - 6:g} v6 h{bar:g} v-6" style="{STROKES["line"]}"/>'
    return body + _svg_text(bar + 12.0, foot, "5 mm", 13)


def _svg_shape(shape: Shape, points: Sequence[tuple[float, float]]) -> str:
    path = "M" + " L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f'<path d="{path}" style="{STROKES[shape.style]}"/>'


def _svg_text(x: float, y: float, words: str, size: float, weight: str = "400") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" font-weight="{weight}" '
        f'font-family="sans-serif" fill="currentColor">{escape(words)}</text>'
    )


class Drawings:
    """What there is of every placement's two drawings in a picture, two in a row."""

    def __init__(self, result: Result) -> None:
        pairs = [(found, panels(found, result.side)) for found in result.placements]
        alone = len(pairs) == 1
        self._panels = [
            (panel.title if alone else f"{found.label}: {panel.title}", panel)
            for found, pair in pairs
            for panel in pair or ()
            if panel.missing is None
        ]
        said = [caption(found) for found, pair in pairs if pair is not None]
        lacking = [f"{p.title}: {p.missing}" for _, pair in pairs for p in pair or () if p.missing]
        words = said + list(dict.fromkeys(lacking))  # what is missing is said once
        self._lines = [line for each in words for line in wrapped(each, WORDS, WIDTH - 2 * MARGIN)]

    @property
    def height(self) -> int:
        """Return how high they are, px; 0 where there is none."""
        if not self._panels:
            return 0
        return round(self._rows_px + LINE * len(self._lines) + WORDS)

    @property
    def _rows_px(self) -> int:
        return PANEL_HEIGHT * ceil(len(self._panels) / 2)

    def draw(self, canvas: Canvas, top: float) -> None:
        """Draw them and the lines below them on a picture."""
        if not self._panels:
            return
        for i, (title, panel) in enumerate(self._panels):
            row, column = divmod(i, 2)
            place = (MARGIN + column * WIDTH / 2, top + row * PANEL_HEIGHT)
            _draw_panel(canvas, title, panel, place)
        for i, line in enumerate(self._lines):
            canvas.text((MARGIN, top + self._rows_px + i * LINE), line, WORDS, SOFT)


def _draw_panel(canvas: Canvas, title: str, panel: Panel, corner: tuple[float, float]) -> None:
    x0, y0 = corner
    canvas.text((x0, y0 + 10.0), title, TITLE)
    left, top, right, bottom = WINDOW_MM
    scale = min(PX_PER_MM, (PANEL_HEIGHT - 80.0) / (bottom - top))
    wide = (right - left) * scale

    def at(point: tuple[float, float]) -> tuple[float, float]:
        return x0 + (point[0] - left) * scale, y0 + 60.0 + (point[1] - top) * scale

    ends = [at(place) for _, place in panel.labels]
    for (words, _), (x, y), height in zip(
        panel.labels, ends, label_heights([y for _, y in ends], 1.3 * WORDS), strict=True
    ):
        canvas.line([(x + 20.0, y), (x0 + wide - 20.0, height)], 1.0, SOFT)
        canvas.text((x0 + wide - 12.0, height - 0.6 * WORDS), words, WORDS)
    for shape in panel.shapes:
        for piece in _inside(shape):
            _draw_shape(canvas, shape, [at(point) for point in piece])
    foot = y0 + 60.0 + (bottom - top) * scale
    canvas.line([(x0, foot - 8), (x0, foot), (x0 + 5 * scale, foot), (x0 + 5 * scale, foot - 8)], 3)
    canvas.text((x0 + 5 * scale + 14.0, foot - WORDS), "5 mm", WORDS)


def _inside(shape: Shape) -> list[list[tuple[float, float]]]:
    """Return the stretches of a contour that lie in the window; other shapes are small."""
    if len(shape.points) < 5 or shape.style in {"fill", "soft"}:
        return [list(shape.points)]
    left, top, right, bottom = WINDOW_MM
    pieces: list[list[tuple[float, float]]] = [[]]
    for x, y in shape.points:
        if left <= x <= right and top <= y <= bottom:
            pieces[-1].append((x, y))
        elif pieces[-1]:
            pieces.append([])
    return [piece for piece in pieces if len(piece) > 1]


def _draw_shape(canvas: Canvas, shape: Shape, points: list[tuple[float, float]]) -> None:
    if shape.style == "fill":
        canvas.polygon(points)
    elif shape.style in {"dashed", "dotted"}:
        canvas.dashed(points, 2.5, 14.0 if shape.style == "dashed" else 5.0)
    else:
        canvas.line(points, {"line": 2.5, "hair": 1.2, "soft": 2.0}[shape.style])


def sides_png(result: Result) -> bytes:
    """Return the drawings of all placements as a PNG; without any there is a sentence."""
    drawings = Drawings(result)
    about = [f"{result.side.capitalize()} ear. {result.software}.", decided_words(result)]
    tall = drawings.height or 120
    canvas = Canvas(Image.new("RGBA", (1, 1), PAPER), WIDTH, tall + 90)
    drawings.draw(canvas, 0.0)
    if not drawings.height:
        canvas.text((MARGIN, 30.0), "No photo shows both ends of a placement.", TITLE)
    for i, line in enumerate(about):
        colour = CAUTION if i and result.judgement.confirmed_by is None else SOFT
        canvas.text((MARGIN, tall + 10.0 + 1.3 * WORDS * i), line, WORDS, colour)
    stream = io.BytesIO()
    canvas.finished().save(stream, "PNG", optimize=False, compress_level=6)
    return stream.getvalue()
