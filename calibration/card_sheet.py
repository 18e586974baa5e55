"""What stands round a card on its sheet: cut line, title, how to print, check and hold it.

Millimetres from the sheet's top-left corner, x right, y down.
"""

from __future__ import annotations

from typing import Literal

from calibration.card import Card
from calibration.drawing import Words

Sheet = Literal["a4", "letter"]

SHEETS_MM: dict[Sheet, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216 and 8.5 x 11 in."""

TOP_MM = 48.0
"""The body's upper edge on the sheet."""

_LEFT_MM, _COLUMN_MM = 20.0, 42.0
_TITLE_MM, _TEXT_MM, _LINE_MM, _GAP_MM = 4.6, 3.1, 4.8, 2.4

_FRAME_CUT = "Along the thin line, window and all, tab left on. The window is open at the bottom."
_POCKET_CUT = "Along the thin line: the size of a bank card."
_FRAME_HOLD = (
    "Round the ear, which looks through the window: parallel to the ear, level with",
    "the rim, the arrow up along the upright head. By the tab, or on a headband or a",
    "stand; not in the client’s hand, and touching no broken skin.",
)
_POCKET_HOLD = (
    "Beside the ear, parallel to it, level with the rim, the arrow up along the upright",
    "head. On a headband or a stand; not in the client’s hand, and touching no",
    "broken skin.",
)


def origin_on(card: Card, sheet: Sheet) -> tuple[float, float]:
    """Return where the card's origin lies on the sheet."""
    return (SHEETS_MM[sheet][0] - card.body_mm[0]) / 2, TOP_MM


def outline(card: Card) -> list[tuple[float, float]]:
    """Return the cut line as a closed polygon in the card's frame, mm."""
    width, height = card.body_mm
    top: list[tuple[float, float]] = [(0.0, 0.0)]
    if card.tab_mm is not None:
        x0, y0, x1, _ = card.tab_mm
        top += [(x0, 0.0), (x0, y0), (x1, y0), (x1, 0.0)]
    bottom = [(width, 0.0), (width, height)]
    if card.window_mm is not None:
        x0, y0, x1, _ = card.window_mm
        bottom += [(x1, height), (x1, y0), (x0, y0), (x0, height)]
    return [*top, *bottom, (0.0, height)]


def _how_to(card: Card) -> tuple[tuple[str, tuple[str, ...]], ...]:
    across, down = card.check_bar_mm
    framed = card.window_mm is not None
    return (
        (
            "Print",
            (
                "At 100 % (actual size), never “fit to page”. On stiff matt stock that can be",
                "wiped, or on paper fresh for each client and thrown away.",
            ),
        ),
        (
            "Cut",
            (_FRAME_CUT if framed else _POCKET_CUT, "Keep it flat: a bent card measures wrong."),
        ),
        (
            "Check",
            (
                "Once a batch, with calipers that never touch skin: both bars, from the outer",
                f"edge of one end to the outer edge of the other. {across:g} mm across, "
                f"{down:g} mm down.",
                "Write down what you read and enter it. Not read, the scale is uncertain by 0.6 %.",
            ),
        ),
        ("Hold", _FRAME_HOLD if framed else _POCKET_HOLD),
        (
            "Take",
            ("The phone 250 to 300 mm away and square to the card, with the back camera.",),
        ),
    )


def on_sheet(card: Card) -> list[Words]:
    """Return the title above the card and the lines below it."""
    kind = "frame card" if card.window_mm is not None else "pocket card"
    words = [
        Words((_LEFT_MM, 16.0), f"Scale card: {kind}", _TITLE_MM, bold=True),
        Words((_LEFT_MM, 21.0), "Print at 100 %, no “fit to page”", _TEXT_MM),
    ]
    y = TOP_MM + card.body_mm[1] + 14.0
    for heading, lines in _how_to(card):
        words.append(Words((_LEFT_MM, y), heading, _TEXT_MM, bold=True))
        for line in lines:
            words.append(Words((_COLUMN_MM, y), line, _TEXT_MM))
            y += _LINE_MM
        y += _GAP_MM
    return words
