"""The scale cards as data: where every printed thing lies, in millimetres.

Places are in the card's frame: origin at the top-left corner of the body, x right, y down.
The id names the version; the range of marker ids tells the cards apart in a photo.

References
----------
ISO/IEC 7810 gives the ID-1 size, 85.60 x 53.98 mm, that the pocket card has.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from calibration.frames import Array

Rect = tuple[float, float, float, float]
"""x0, y0, x1, y1 in mm, card frame."""


class UnknownCardError(KeyError):
    """A card id that no card has."""

    def __str__(self) -> str:
        """Return the message without the quotes that a KeyError puts round it."""
        return str(self.args[0])


@dataclass(frozen=True, slots=True)
class Card:
    """A ChArUco card: its pattern, what is cut out, what is printed beside the pattern.

    ``border_squares`` is how many rows of squares stand left, right and above the window;
    None where the whole pattern is printed.  ``check_bars_mm`` (across, down) are the boxes
    round the check bars: a bar is read from the outer edge of one end stroke to the outer edge
    of the other.  ``up_arrow_mm`` is the box round the arrow that points up.
    """

    id: str
    columns: int
    rows: int
    square_mm: float
    marker_mm: float
    dictionary: str
    first_marker_id: int
    body_mm: tuple[float, float]
    board_origin_mm: tuple[float, float]
    border_squares: int | None
    window_mm: Rect | None
    check_bars_mm: tuple[Rect, Rect]
    up_arrow_mm: Rect
    tab_mm: Rect | None

    @property
    def check_bar_mm(self) -> tuple[float, float]:
        """Return the check bars' nominal lengths, across and down."""
        across, down = self.check_bars_mm
        return round(across[2] - across[0], 9), round(down[3] - down[1], 9)

    @property
    def marker_ids(self) -> tuple[int, ...]:
        """Return the id of every white square of the full board, row by row."""
        count = self.columns * self.rows // 2
        return tuple(range(self.first_marker_id, self.first_marker_id + count))

    def is_printed(self, column: int, row: int) -> bool:
        """Return whether a square of the full board is on the card."""
        border = self.border_squares
        if border is None:
            return True
        return row < border or column < border or column >= self.columns - border

    @property
    def corner_ids(self) -> tuple[int, ...]:
        """Return the inner corners whose four squares are all printed."""
        across = self.columns - 1
        return tuple(
            (row - 1) * across + column - 1
            for row in range(1, self.rows)
            for column in range(1, self.columns)
            if all(self.is_printed(column - i, row - j) for i in (0, 1) for j in (0, 1))
        )

    def corners_mm(self, ids: Iterable[int]) -> Array:
        """Return where inner corners lie, (N, 2) mm, by their ids on the full board.

        Raises
        ------
        ValueError
            If an id is none of the board's.
        """
        index = np.asarray(list(ids), dtype=np.int64)
        count = (self.columns - 1) * (self.rows - 1)
        if index.size and not 0 <= index.min() <= index.max() < count:
            raise ValueError(f"'ids' must be from 0 to {count - 1} (got {index.tolist()})")
        row, column = np.divmod(index, self.columns - 1)
        grid = np.column_stack([column + 1, row + 1]) * self.square_mm
        return np.asarray(grid + np.asarray(self.board_origin_mm), dtype=np.float64)


FRAME = Card(
    id="rimspan-frame-1",
    columns=14,
    rows=11,
    square_mm=9.0,
    marker_mm=7.0,
    dictionary="DICT_5X5_250",
    first_marker_id=0,
    body_mm=(138.0, 111.0),
    board_origin_mm=(6.0, 6.0),
    border_squares=3,
    window_mm=(35.0, 35.0, 103.0, 111.0),
    check_bars_mm=((19.0, 1.2, 119.0, 3.8), (1.2, 5.5, 3.8, 105.5)),
    up_arrow_mm=(129.6, 1.0, 132.0, 4.6),
    tab_mm=(49.0, -25.0, 89.0, 0.0),
)
"""Held round the ear, which looks through the window; open at the bottom."""

POCKET = Card(
    id="rimspan-pocket-1",
    columns=9,
    rows=5,
    square_mm=9.0,
    marker_mm=7.0,
    dictionary="DICT_5X5_250",
    first_marker_id=100,
    body_mm=(85.60, 53.98),
    board_origin_mm=((85.60 - 81.0) / 2, (53.98 - 45.0) / 2),
    border_squares=None,
    window_mm=None,
    check_bars_mm=((17.8, 0.9, 67.8, 2.9), (0.4, 6.99, 1.2, 46.99)),
    up_arrow_mm=(81.2, 0.8, 83.0, 3.4),
    tab_mm=None,
)
"""Beside the ear, on a headband or a stand."""

CARDS: Mapping[str, Card] = MappingProxyType({card.id: card for card in (FRAME, POCKET)})


def card_by_id(card_id: str) -> Card:
    """Return the card of that id.

    Raises
    ------
    UnknownCardError
        With the nearest known id.
    """
    if card_id in CARDS:
        return CARDS[card_id]
    close = difflib.get_close_matches(card_id, CARDS, n=1, cutoff=0.0)
    raise UnknownCardError(f"{card_id!r} is no known card; did you mean {close[0]!r}?")
