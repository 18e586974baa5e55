"""The cards as files: PDF and SVG at true size on a sheet, PNG of the card's body alone."""

from __future__ import annotations

import io
import math
from typing import Literal

import numpy as np
from PIL import Image as Pillow
from PIL.PngImagePlugin import PngInfo
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from calibration.card import Card, Rect
from calibration.drawing import Box, Words, printed
from calibration.frames import Array, Image

Sheet = Literal["a4", "letter"]

SHEETS_MM: dict[Sheet, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216 and 8.5 x 11 in."""

TOP_MM = 48.0
CUT_MM = 0.15

HOW_TO = (
    "Print at 100 % (actual size), without 'fit to page', on matt stock. Cut along the thin line.",
    "Check: read both bars over their ends with calipers that never touch skin, once a batch, and",
    "enter what you read: {across:g} mm across, {down:g} mm down.",
    "Use: flat and stiff, level with the rim, the arrow up. {place}",
    "Hold the phone 250 to 300 mm away, square to the card, and don't use the front camera.",
    "Wipe it between clients, or print it fresh for each and throw it away.",
)

PLACE_WINDOW = "The ear looks through the window."
PLACE_BESIDE = "Beside the ear, on a headband or a stand, not in the client's hand."


def _name_words(card: Card) -> list[Words]:
    """Return the words on the card itself: its id."""
    if card.tab_mm is not None:
        x0, y0, _, y1 = card.tab_mm
        middle = (y0 + y1) / 2
        return [
            Words((x0 + 4, middle - 3), "hold here", 3.0),
            Words((x0 + 4, middle + 3), card.id, 3.0),
        ]
    return [Words((card.board_origin_mm[0], card.body_mm[1] - 1.3), card.id, 2.0)]


def _how_to_words(card: Card) -> list[Words]:
    across, down = card.check_bar_mm
    place = PLACE_WINDOW if card.window_mm else PLACE_BESIDE
    lines = [line.format(across=across, down=down, place=place) for line in HOW_TO]
    left = (card.body_mm[0] - 150.0) / 2
    top = card.body_mm[1] + 14
    return [Words((left, top + 6 * i), line, 3.4) for i, line in enumerate(lines)]


def _outline(card: Card) -> list[tuple[float, float]]:
    """Return the cut line as a closed polygon, mm."""
    width, height = card.body_mm
    top: list[tuple[float, float]] = [(0.0, 0.0), (width, 0.0)]
    if card.tab_mm is not None:
        x0, y0, x1, _ = card.tab_mm
        top = [(0.0, 0.0), (x0, 0.0), (x0, y0), (x1, y0), (x1, 0.0), (width, 0.0)]
    if card.window_mm is None:
        return [*top, (width, height), (0.0, height)]
    x0, y0, x1, _ = card.window_mm
    window = [(x1, height), (x1, y0), (x0, y0), (x0, height)]
    return [*top, (width, height), *window, (0.0, height)]


def _origin_on(card: Card, sheet: Sheet) -> tuple[float, float]:
    """Return where the card's origin lies on the sheet, mm from its top-left corner."""
    return (SHEETS_MM[sheet][0] - card.body_mm[0]) / 2, TOP_MM


def card_pdf(card: Card, sheet: Sheet) -> bytes:
    """Return the card as a one-page vector PDF at true size."""
    width, height = SHEETS_MM[sheet]
    left, top = _origin_on(card, sheet)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(width * mm, height * mm), invariant=1, pageCompression=1)
    canvas.setTitle(f"Scale card {card.id}")
    canvas.setAuthor("Rimspan")
    canvas.setViewerPreference("PrintScaling", "None")
    for box in printed(card):
        x0, y0, x1, y1 = box.rect
        canvas.setFillGray(0 if box.black else 1)
        at = (left + x0) * mm, (height - top - y1) * mm
        canvas.rect(*at, (x1 - x0) * mm, (y1 - y0) * mm, stroke=0, fill=1)
    canvas.setFillGray(0)
    for words in (*_name_words(card), *_how_to_words(card)):
        canvas.setFont("Helvetica", words.size_mm * mm)
        x, y = words.at_mm
        canvas.drawString((left + x) * mm, (height - top - y) * mm, words.text)
    canvas.setStrokeGray(0.5)
    canvas.setLineWidth(CUT_MM * mm)
    path = canvas.beginPath()
    corners = [((left + x) * mm, (height - top - y) * mm) for x, y in _outline(card)]
    path.moveTo(*corners[0])
    for corner in corners[1:]:
        path.lineTo(*corner)
    path.close()
    canvas.drawPath(path)
    canvas.save()
    return out.getvalue()


def card_svg(card: Card, sheet: Sheet) -> bytes:
    """Return the card as an SVG whose units are millimetres."""
    width, height = SHEETS_MM[sheet]
    left, top = _origin_on(card, sheet)
    points = " ".join(f"{x:g},{y:g}" for x, y in _outline(card))
    body = [
        f'<rect x="{b.rect[0]:.4f}" y="{b.rect[1]:.4f}" width="{b.rect[2] - b.rect[0]:.4f}" '
        f'height="{b.rect[3] - b.rect[1]:.4f}" fill="{"#000" if b.black else "#fff"}"/>'
        for b in printed(card)
    ]
    body += [
        f'<text x="{w.at_mm[0]:g}" y="{w.at_mm[1]:g}" font-size="{w.size_mm:g}" '
        f'font-family="sans-serif">{w.text}</text>'
        for w in (*_name_words(card), *_how_to_words(card))
    ]
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}">',
        f"<title>Scale card {card.id}</title>",
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>',
        f'<g transform="translate({left:g} {top:g})">',
        *body,
        f'<polygon points="{points}" fill="none" stroke="#808080" stroke-width="{CUT_MM:g}"/>',
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines).encode()


def card_png(card: Card, dpi: int) -> bytes:
    """Return the card's body as a PNG, clear where it is cut away.

    Pixel (i, j) covers i*25.4/dpi to (i+1)*25.4/dpi mm from the body's corner; each pixel has
    the grey of the area that is printed in it, so edges lie where they are, not on pixels.

    Raises
    ------
    ValueError
        If dpi is not between 50 and 2400.
    """
    if not 50 <= dpi <= 2400:
        raise ValueError(f"'dpi' must be from 50 to 2400 (got {dpi})")
    width, height = (math.ceil(side * dpi / 25.4 - 1e-9) for side in card.body_mm)
    grey = np.full((height, width), 255.0)
    for box in printed(card):
        _paint(grey, box, dpi)
    alpha = _covered((0.0, 0.0, *card.body_mm), width, height, dpi)
    if card.window_mm is not None:
        alpha *= 1.0 - _covered(card.window_mm, width, height, dpi)
    rows = _bytes(grey)
    picture = Pillow.fromarray(np.dstack([rows, rows, rows, _bytes(alpha * 255.0)]), "RGBA")
    out = io.BytesIO()
    note = PngInfo()
    note.add_text("Title", f"Scale card {card.id}")
    picture.save(out, "PNG", dpi=(dpi, dpi), pnginfo=note)
    return out.getvalue()


def _bytes(values: Array) -> Image:
    return np.round(values).astype(np.uint8)


def _cover(low: float, high: float, count: int, dpi: int) -> tuple[slice, Array]:
    """Return the pixels that a stretch touches, and how much of each it covers."""
    start, end = low * dpi / 25.4, high * dpi / 25.4
    first, last = max(0, math.floor(start)), min(count, math.ceil(end))
    pixel = np.arange(first, last, dtype=np.float64)
    share = np.minimum(pixel + 1, end) - np.maximum(pixel, start)
    return slice(first, last), np.clip(share, 0.0, 1.0)


def _paint(grey: Array, box: Box, dpi: int) -> None:
    x0, y0, x1, y1 = box.rect
    columns, across = _cover(x0, x1, grey.shape[1], dpi)
    rows, down = _cover(y0, y1, grey.shape[0], dpi)
    share = np.outer(down, across)
    under = grey[rows, columns]
    grey[rows, columns] = under + share * ((0.0 if box.black else 255.0) - under)


def _covered(rect: Rect, width: int, height: int, dpi: int) -> Array:
    area = np.zeros((height, width))
    columns, across = _cover(rect[0], rect[2], width, dpi)
    rows, down = _cover(rect[1], rect[3], height, dpi)
    area[rows, columns] = np.outer(down, across)
    return area
