"""A card in a photo -> its corners, or why none was found.

ChArUco corners by their printed ids: squares tell which corner it is, the corner itself is the
saddle of four squares, refined at full resolution in a window that grows with the squares.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.card import CARDS, Card
from calibration.frames import Array, Image

Ids = NDArray[np.int64]

DETECT_PX = 2000
"""Long side at which markers are looked for; corners are refined at full size."""

LEAST_CORNERS = 6


@dataclass(frozen=True, slots=True)
class CardSeen:
    """Corners of one card, ``corners_px`` (N, 2) in the unmirrored picture."""

    card: Card
    corner_ids: Ids
    corners_px: Array
    mirrored: bool
    markers: int


@dataclass(frozen=True, slots=True)
class NotFound:
    """Why no card was found: what was seen, what it means, what to do."""

    code: str
    seen: str
    means: str
    do: str

    @property
    def sentence(self) -> str:
        """Return the three as one text."""
        return f"{self.seen} {self.means} {self.do}"


@dataclass(frozen=True, slots=True)
class _Markers:
    ids: Ids
    corners: Array  # (N, 4, 2) px, full size


def unmirror(points_px: Array, width: int) -> Array:
    """Return points of a mirrored photo, (N, 2) px, in the picture turned back."""
    return np.column_stack([width - 1 - points_px[:, 0], points_px[:, 1]])


def find_card(pixels: Image, cards: Iterable[Card] = CARDS.values()) -> CardSeen | NotFound:
    """Return the card seen in a photo.

    Parameters
    ----------
    pixels : (H, W, 3) or (H, W) array, RGB or grey
    cards : the cards that it may be
    """
    known = list(cards)
    grey = pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    best: NotFound | None = None
    for picture in _attempts(np.asarray(grey)):
        for mirrored in (False, True):
            turned = np.ascontiguousarray(picture[:, ::-1]) if mirrored else picture
            found = _look(turned, known, mirrored)
            if isinstance(found, CardSeen):
                return found
            best = found if best is None or found.code == "too_few_corners" else best
    return best or _nothing()


def _attempts(grey: Image) -> Iterator[Image]:
    """Yield the picture as it is, then with its contrast evened out."""
    yield grey
    tiles = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(8, 8))
    yield np.asarray(tiles.apply(grey), dtype=np.uint8)


def _look(grey: Image, cards: list[Card], mirrored: bool) -> CardSeen | NotFound:
    markers = _markers(grey, cards[0].dictionary)
    if markers is None:
        return _nothing()
    by_card = [(card, np.isin(markers.ids, card.marker_ids)) for card in cards]
    card, own = max(by_card, key=lambda pair: int(pair[1].sum()))
    count = int(own.sum())
    if count < 2:
        return _unknown(markers.ids) if len(markers.ids) >= 2 else _nothing()
    ids, corners = _corners(grey, card, _Markers(markers.ids[own], markers.corners[own]))
    keep = _consistent(card, ids, corners)
    ids, corners = ids[keep], corners[keep]
    if len(ids) < LEAST_CORNERS:
        return _few(len(ids), count)
    return CardSeen(card, ids, corners, mirrored, count)


def _markers(grey: Image, dictionary: str) -> _Markers | None:
    scale = min(1.0, DETECT_PX / max(grey.shape))
    small: Image = grey
    if scale < 1.0:
        shrunk = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        small = np.asarray(shrunk, dtype=np.uint8)
    options = cv2.aruco.DetectorParameters()
    options.adaptiveThreshWinSizeMin, options.adaptiveThreshWinSizeMax = 5, 45
    options.adaptiveThreshWinSizeStep = 8
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(_dictionary(dictionary), options)
    found, ids, _ = detector.detectMarkers(small)
    if ids is None or len(found) == 0:
        return None
    places = np.asarray(found, dtype=np.float64).reshape(-1, 4, 2)
    full = (places + 0.5) / scale - 0.5  # pixel centres, not corners, are whole numbers
    return _Markers(np.asarray(ids).reshape(-1).astype(np.int64), full)


def _dictionary(name: str) -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, name))


def _corners(grey: Image, card: Card, markers: _Markers) -> tuple[Ids, Array]:
    """Return the card's printed corners that two or more markers vouch for."""
    board = cv2.aruco.CharucoBoard(
        (card.columns, card.rows),
        card.square_mm,
        card.marker_mm,
        _dictionary(card.dictionary),
        np.asarray(card.marker_ids, dtype=np.int32),
    )
    options = cv2.aruco.CharucoParameters()
    options.minMarkers = 2  # with 1 corners are made up
    detector = cv2.aruco.CharucoDetector(board, options)
    places = [m.astype(np.float32).reshape(1, 4, 2) for m in markers.corners]
    corners, ids, _, _ = detector.detectBoard(
        grey, markerCorners=places, markerIds=markers.ids.astype(np.int32).reshape(-1, 1)
    )
    if ids is None or corners is None:
        return np.zeros(0, dtype=np.int64), np.zeros((0, 2))
    found = np.asarray(ids).reshape(-1).astype(np.int64)
    at = np.asarray(corners, dtype=np.float64).reshape(-1, 2)
    printed = np.isin(found, card.corner_ids)
    return found[printed], _refined(grey, at[printed], _square_px(markers, card))


def _square_px(markers: _Markers, card: Card) -> float:
    """Return the shortest side of a square as it is seen, px."""
    sides = np.linalg.norm(markers.corners - np.roll(markers.corners, 1, axis=1), axis=2)
    return float(np.percentile(sides, 10)) * card.square_mm / card.marker_mm


def _refined(grey: Image, corners: Array, square_px: float) -> Array:
    """Return the corners at their saddle points; a window of a fifth of a square."""
    if len(corners) == 0:
        return corners
    # Markers begin (9 - 7) / 2 / 9 = 0.11 of a square from the corner along the diagonal.
    half = int(np.clip(round(0.10 * square_px), 2, 14))
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 60, 0.001)
    start = corners.astype(np.float32).reshape(-1, 1, 2)
    moved = cv2.cornerSubPix(grey, start.copy(), (half, half), (-1, -1), stop)
    moved = np.asarray(moved, dtype=np.float64).reshape(-1, 2)
    strayed = np.linalg.norm(moved - corners, axis=1) > half
    return np.where(strayed[:, None], corners, moved)


def _consistent(card: Card, ids: Ids, corners: Array) -> NDArray[np.bool_]:
    """Return which corners one plane's picture explains."""
    if len(ids) < 4:
        return np.zeros(len(ids), dtype=bool)
    span = float(np.ptp(corners, axis=0).max())
    _, kept = cv2.findHomography(
        card.corners_mm(ids.tolist()), corners, cv2.RANSAC, max(2.0, 0.006 * span)
    )
    if kept is None:
        return np.zeros(len(ids), dtype=bool)
    return np.asarray(kept.ravel().astype(bool))


def _nothing() -> NotFound:
    return NotFound(
        "no_card",
        "No scale card is seen in the photo.",
        "Without it there are no millimetres.",
        "Put the printed card beside the ear, flat and uncovered, and take the photo again.",
    )


def _unknown(ids: Ids) -> NotFound:
    return NotFound(
        "unknown_card",
        f"{len(ids)} markers are seen, but of no known card (ids {ids.min()} to {ids.max()}).",
        "Its millimetres are not known.",
        "Print the card that this version writes.",
    )


def _few(corners: int, markers: int) -> NotFound:
    return NotFound(
        "too_few_corners",
        f"{corners} corners of the card are seen ({markers} markers), at least {LEAST_CORNERS} "
        "are needed.",
        "Too much of the card is covered, or it is too small or blurred in the photo.",
        "Uncover it, hold the phone 250 to 300 mm away, and take the photo again.",
    )
