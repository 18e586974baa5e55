"""The cards as files: PDF and SVG at true size on a sheet, PNG of the card's body alone.

All three draw the same list of shapes.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray
from PIL import Image as Pillow
from PIL.PngImagePlugin import PngInfo
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from calibration.card import Card
from calibration.card_sheet import SHEETS_MM, TOP_MM, Sheet, on_sheet, origin_on, outline
from calibration.drawing import Box, Shape, Words, on_body, on_tab
from calibration.raster import cover, font_file

__all__ = ["DPI_RANGE", "SHEETS_MM", "TOP_MM", "Sheet", "card_pdf", "card_png", "card_svg"]

DPI_RANGE = (50, 2400)
CUT_MM = 0.15

Point = tuple[float, float]


def _rings(shapes: Iterable[Shape]) -> Iterator[list[list[Point]] | Words]:
    """Yield words, and areas as rings: a black one, then the white ones within it.

    Drawn as one path, with the white rings the other way round, an area has no seams between
    its white parts.
    """
    area: list[list[Point]] = []
    for shape in shapes:
        if isinstance(shape, Box):
            x0, y0, x1, y1 = shape.rect
            ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
            if not shape.black:
                area.append(ring[::-1])
                continue
        if area:
            yield area
            area = []
        if isinstance(shape, Words):
            yield shape
        else:
            area = [ring if isinstance(shape, Box) else list(shape.points_mm)]
    if area:
        yield area


def card_pdf(card: Card, sheet: Sheet) -> bytes:
    """Return the card as a one-page vector PDF at true size.

    Parameters
    ----------
    card : Card
    sheet : ``"a4"`` or ``"letter"``
    """
    width, height = SHEETS_MM[sheet]
    left, top = origin_on(card, sheet)
    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(width * mm, height * mm), invariant=1, pageCompression=1)
    canvas.setTitle(f"Scale card {card.id}")
    canvas.setAuthor("Rimspan")
    canvas.setViewerPreference("PrintScaling", "None")
    for bold in (False, True):
        pdfmetrics.registerFont(TTFont(_font_name(bold), io.BytesIO(font_file(bold))))
    canvas.scale(mm, mm)
    _draw_pdf(canvas, on_sheet(card), (0.0, height))
    _draw_pdf(canvas, [*on_body(card), *on_tab(card)], (left, height - top))
    canvas.setStrokeGray(0.5)
    canvas.setLineWidth(CUT_MM)
    path = canvas.beginPath()
    _trace(path, outline(card), (left, height - top))
    canvas.drawPath(path)
    canvas.save()
    return out.getvalue()


def _font_name(bold: bool) -> str:
    return "Vera-Bold" if bold else "Vera"


def _draw_pdf(canvas: Canvas, shapes: Iterable[Shape], origin: Point) -> None:
    """Draw shapes whose origin lies at ``origin``, mm from the page's lower left corner."""
    canvas.setFillGray(0)
    for item in _rings(shapes):
        if isinstance(item, Words):
            _write_pdf(canvas, item, origin)
            continue
        path = canvas.beginPath()
        for ring in item:
            _trace(path, ring, origin)
        canvas.drawPath(path, stroke=0, fill=1)


def _trace(path: PDFPathObject, ring: list[Point], origin: Point) -> None:
    places = [(origin[0] + x, origin[1] - y) for x, y in ring]
    path.moveTo(*places[0])
    for place in places[1:]:
        path.lineTo(*place)
    path.close()


def _write_pdf(canvas: Canvas, words: Words, origin: Point) -> None:
    canvas.saveState()
    canvas.translate(origin[0] + words.at_mm[0], origin[1] - words.at_mm[1])
    if words.turned:
        canvas.rotate(90)
    canvas.setFont(_font_name(words.bold), words.size_mm)
    if words.anchor == "start":
        canvas.drawString(0, 0, words.text)
    else:
        canvas.drawCentredString(0, 0, words.text)
    canvas.restoreState()


def card_svg(card: Card, sheet: Sheet) -> bytes:
    """Return the card as an SVG whose units are millimetres.

    Parameters
    ----------
    card : Card
    sheet : ``"a4"`` or ``"letter"``
    """
    width, height = SHEETS_MM[sheet]
    left, top = origin_on(card, sheet)
    points = " ".join(f"{x:g},{y:g}" for x, y in outline(card))
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="0 0 {width:g} {height:g}" '
        'font-family="Bitstream Vera Sans, DejaVu Sans, Verdana, sans-serif">',
        f"<title>Scale card {card.id}</title>",
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>',
        *map(_svg, _rings(on_sheet(card))),
        f'<g transform="translate({left:g} {top:g})">',
        *map(_svg, _rings([*on_body(card), *on_tab(card)])),
        f'<polygon points="{points}" fill="none" stroke="#808080" stroke-width="{CUT_MM:g}"/>',
        "</g>",
        "</svg>",
    ]
    return "\n".join(lines).encode()


def _svg(item: list[list[Point]] | Words) -> str:
    if not isinstance(item, Words):
        rings = ("L".join(f"{x:.4f} {y:.4f}" for x, y in ring) for ring in item)
        return f'<path d="{"".join(f"M{ring}Z" for ring in rings)}"/>'
    x, y = item.at_mm
    turn = f' transform="rotate(-90 {x:g} {y:g})"' if item.turned else ""
    weight = ' font-weight="bold"' if item.bold else ""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{item.size_mm:g}" text-anchor="{item.anchor}"'
        f"{weight}{turn}>{escape(item.text)}</text>"
    )


def card_png(card: Card, dpi: int) -> bytes:
    """Return the card's body as an RGBA PNG, clear where it is cut away.

    Pixel (i, j) covers i*25.4/dpi to (i+1)*25.4/dpi mm from the body's corner; each pixel has
    the grey of the area that is printed in it, so edges lie where they are, not on pixels.

    Raises
    ------
    ValueError
        If dpi is not between 50 and 2400.
    """
    low, high = DPI_RANGE
    if not low <= dpi <= high:
        raise ValueError(f"'dpi' must be from {low} to {high} (got {dpi})")
    width, height = (math.ceil(side * dpi / 25.4 - 1e-9) for side in card.body_mm)
    stands = [Box((0.0, 0.0, *card.body_mm))]
    if card.window_mm is not None:
        stands.append(Box(card.window_mm, black=False))
    rgba = np.empty((height, width, 4), dtype=np.uint8)
    rgba[..., :3] = 255 - _bytes(cover(on_body(card), (width, height), dpi))[..., None]
    rgba[..., 3] = _bytes(cover(stands, (width, height), dpi))
    note = PngInfo()
    note.add_text("Title", f"Scale card {card.id}")
    out = io.BytesIO()
    Pillow.fromarray(rgba, "RGBA").save(out, "PNG", dpi=(dpi, dpi), pnginfo=note)
    return out.getvalue()


def _bytes(share: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return 0 to 1 as 0 to 255, in the same memory: a fine card has 140 million pixels."""
    np.clip(share, 0.0, 1.0, out=share)
    np.rint(np.multiply(share, 255.0, out=share), out=share)
    return share.astype(np.uint8)
