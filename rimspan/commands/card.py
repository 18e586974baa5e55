"""``rimspan card``: the printable scale card in a file."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Literal

from calibration.card import FRAME, POCKET
from calibration.draw_card import DPI_RANGE, card_pdf, card_png, card_svg
from rimspan.commands.files import Outputs, checked_suffix, refuse

SUFFIXES = (".pdf", ".svg", ".png")

Sheet = Literal["a4", "letter"]


def run(arguments: argparse.Namespace) -> str:
    """Run the command and return what to say."""
    return write_card(arguments.size, arguments.out, arguments.dpi)


def write_card(size: str, out: Path, dpi: int) -> str:
    """Write the card and return one JSON line that tells its id and size (mm).

    Parameters
    ----------
    size : ``"a4"`` and ``"letter"`` for the frame card on that sheet, ``"pocket"`` for the
        pocket card (on A4)
    out : Path
        Its suffix picks PDF, SVG or PNG.
    dpi : int
        Pixels to the inch of a PNG, 50 to 2400.

    Raises
    ------
    CommandRefusedError
        If the suffix or dpi is none of these or the file can't be written.
    """
    suffix = checked_suffix(out, SUFFIXES, "--out")
    low, high = DPI_RANGE
    if not low <= dpi <= high:
        raise refuse("--dpi", f"must lie between {low} and {high} (got {dpi})", "600 is plenty")
    outputs = Outputs()
    outputs.claim(out, "--out")
    card = POCKET if size == "pocket" else FRAME
    sheet: Sheet = "letter" if size == "letter" else "a4"
    if suffix == ".png":
        content = card_png(card, dpi)
    elif suffix == ".svg":
        content = card_svg(card, sheet)
    else:
        content = card_pdf(card, sheet)
    outputs.add(out, content)
    outputs.write()
    width, height = card.body_mm
    return json.dumps({"card": card.id, "width_mm": width, "height_mm": height, "dpi": dpi})
