"""A card in a photo -> its corners, or why none was found.

Markers tell which card it is and where its inner corners are to be expected, also those whose
own markers are hidden; each corner is then looked for at full resolution, and counts only if
its four edges are seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.card import CARDS, Card
from calibration.corners import find_corners
from calibration.frames import Array, Image
from calibration.refused import Refused

Ids = NDArray[np.int64]

DETECT_PX = 2000
"""Long side at which markers are looked for; corners are refined at full size."""

ENLARGED = 2.0
"""How much a picture is enlarged at most, where too few markers were found in it as it is."""
SHARPER = 2.0
"""How often the difference from its blur by a pixel is then added."""

LEAST_CORNERS = 6
LENS_SPAN = 0.006
"""What k1 may bend a plane's picture by, as a share of its span."""
RANK = ("no_card", "unknown_card", "too_few_corners")
"""Of several reasons, the later says more."""


@dataclass(frozen=True, slots=True)
class CardSeen:
    """Corners of one card, ``corners_px`` (N, 2) in the unmirrored picture."""

    card: Card
    corner_ids: Ids
    corners_px: Array
    mirrored: bool
    markers: int


class NotFound(Refused):
    """Why no card was found."""


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
    grey = pixels
    if pixels.ndim == 3:
        grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    best = _nothing()
    for picture, long_side_px in _attempts(grey):
        for mirrored in (False, True):
            turned, plain = (_turned(p) if mirrored else p for p in (picture, grey))
            markers = _markers(turned, known[0].dictionary, long_side_px)
            found = _look(plain, markers, known)  # corners always in the plain picture
            if isinstance(found, CardSeen):
                return replace(found, mirrored=mirrored)
            best = max(best, found, key=lambda missed: RANK.index(missed.code))
    return best


def _turned(grey: Image) -> Image:
    return np.ascontiguousarray(grey[:, ::-1])


def _attempts(grey: Image) -> Iterator[tuple[Image, int]]:
    """Yield pictures to look for markers in, each with the long side to look at, px."""
    side = max(grey.shape)
    yield grey, min(side, DETECT_PX)
    if side > 1.5 * DETECT_PX:  # a small card in a large photo
        yield grey, min(side, 2 * DETECT_PX)
    tiles = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(8, 8))
    yield np.asarray(tiles.apply(grey), dtype=np.uint8), min(side, DETECT_PX)
    if side < 2 * DETECT_PX:  # a card seen aslant in a small photo: its markers have few pixels
        yield grey, min(round(ENLARGED * side), 2 * DETECT_PX)


def _look(grey: Image, markers: _Markers | None, cards: list[Card]) -> CardSeen | NotFound:
    if markers is None:
        return _nothing()
    by_card = [(card, np.isin(markers.ids, card.marker_ids)) for card in cards]
    card, own = max(by_card, key=lambda pair: int(pair[1].sum()))
    if own.sum() < 2:
        return _unknown(markers.ids) if len(markers.ids) >= 2 else _nothing()
    placed = _placed(card, _Markers(markers.ids[own], markers.corners[own]))
    if placed is None:
        return _few(0, int(own.sum()))
    ids, corners = _corners(grey, card, placed)
    count = len(placed.printed) // 4
    if len(ids) < LEAST_CORNERS:
        return _few(len(ids), count)
    return CardSeen(card, ids, corners, False, count)


def _markers(grey: Image, dictionary: str, long_side_px: int) -> _Markers | None:
    scale = long_side_px / max(grey.shape)
    small: Image = grey
    options = cv2.aruco.DetectorParameters()
    if scale < 1.0:
        shrunk = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        small = np.asarray(shrunk, dtype=np.uint8)
    elif scale > 1.0:
        small = _enlarged(grey, scale)
        # A marker's cell may be a pixel and a half wide: its middle is read, and finely.
        options.perspectiveRemovePixelPerCell = 8
        options.perspectiveRemoveIgnoredMarginPerCell = 0.3
    options.adaptiveThreshWinSizeMin, options.adaptiveThreshWinSizeMax = 5, 45
    options.adaptiveThreshWinSizeStep = 8
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    detector = cv2.aruco.ArucoDetector(_dictionary(dictionary), options)
    found, ids, _ = detector.detectMarkers(small)
    if ids is None or len(found) == 0:
        return None
    places = np.asarray(found, dtype=np.float64).reshape(-1, 4, 2)
    # Pixel centres, not pixel borders, are whole numbers; rounding sets the scale by axis.
    by_axis = np.array([small.shape[1] / grey.shape[1], small.shape[0] / grey.shape[0]])
    full = (places + 0.5) / by_axis - 0.5
    return _Markers(np.asarray(ids).reshape(-1).astype(np.int64), full)


def _enlarged(grey: Image, scale: float) -> Image:
    """Return the picture larger, with what its blur took of the finest contrast given back."""
    large = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
    soft = cv2.GaussianBlur(large, (0, 0), scale)
    return np.asarray(cv2.addWeighted(large, 1.0 + SHARPER, soft, -SHARPER, 0.0), dtype=np.uint8)


def _dictionary(name: str) -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, name))


@dataclass(frozen=True, slots=True)
class _Placed:
    """Points known on the card, (M, 2) mm, and in the photo, (M, 2) px: one plane's picture."""

    printed: Array
    seen: Array
    plane: Array  # homography, mm -> px

    def expect(self, points_mm: Array) -> Array:
        """Return where card points are expected, px; nearby known ones correct the lens."""
        there = cv2.perspectiveTransform(points_mm[None], self.plane)[0]
        missed = self.seen - cv2.perspectiveTransform(self.printed[None], self.plane)[0]
        gap = np.linalg.norm(points_mm[:, None] - self.printed[None], axis=2)
        weight = 1.0 / (gap + 2.0) ** 3
        return np.asarray(there + weight @ missed / weight.sum(axis=1, keepdims=True))

    def explains(self, printed: Array, seen: Array) -> NDArray[np.bool_]:
        """Return which points, (K, 2) each, lie about where the plane has them."""
        if len(printed) == 0:
            return np.zeros(0, dtype=bool)
        gap = seen - cv2.perspectiveTransform(printed[None], self.plane)[0]
        return np.asarray(np.linalg.norm(gap, axis=1) <= _lens_px(self.seen))

    def with_more(self, printed: Array, seen: Array) -> _Placed:
        """Return the same with further points, (K, 2) each."""
        printed, seen = np.vstack([self.printed, printed]), np.vstack([self.seen, seen])
        plane, _ = cv2.findHomography(printed, seen, cv2.LMEDS)
        kept = self.plane if plane is None else np.asarray(plane, dtype=np.float64)
        return _Placed(printed, seen, kept)


def _placed(card: Card, markers: _Markers) -> _Placed | None:
    """Return the markers that one plane's picture explains, at least two."""
    where = {marker: _marker_mm(card, i) for i, marker in enumerate(card.marker_ids)}
    printed = np.concatenate([where[marker] for marker in markers.ids.tolist()])
    seen = markers.corners.reshape(-1, 2)
    plane, kept = cv2.findHomography(printed, seen, cv2.RANSAC, _lens_px(seen))
    if plane is None or kept is None:
        return None
    whole = np.repeat(kept.reshape(-1, 4).all(axis=1), 4)
    if whole.sum() < 8:
        return None
    return _Placed(printed[whole], seen[whole], np.asarray(plane, dtype=np.float64))


def _lens_px(seen: Array) -> float:
    """Return how far a plane's points may lie off a homography, for the lens's sake."""
    return max(3.0, LENS_SPAN * float(np.ptp(seen, axis=0).max()))


def _marker_mm(card: Card, index: int) -> Array:
    """Return a marker's corners, (4, 2) mm, clockwise from its top left, as OpenCV has them."""
    white = [(c, r) for r in range(card.rows) for c in range(card.columns) if (r + c) % 2 == 1]
    square, side = card.square_mm, card.marker_mm
    corner = np.array(white[index]) * square + card.board_origin_mm + (square - side) / 2
    return np.asarray(corner + side * np.array([[0, 0], [1, 0], [1, 1], [0, 1]]))


def _corners(grey: Image, card: Card, placed: _Placed) -> tuple[Ids, Array]:
    """Return the printed corners that are seen, ids and places, px."""
    ids = np.array(card.corner_ids, dtype=np.int64)
    for _ in range(2):  # the second time with the corners themselves, for those further out
        at = card.corners_mm(ids.tolist())
        x, y = np.array([[card.square_mm / 2, 0.0], [0.0, card.square_mm / 2]])
        across = placed.expect(at + x) - placed.expect(at - x)
        down = placed.expect(at + y) - placed.expect(at - y)
        slopes = np.stack([across, down], axis=2)
        places = find_corners(grey, card, ids, placed.expect(at), slopes)
        found = np.isfinite(places).all(axis=1)
        if found.all() or found.sum() < LEAST_CORNERS:
            break
        placed = placed.with_more(at[found], places[found])
    kept = np.flatnonzero(found)
    kept = kept[placed.explains(at[kept], places[kept])]
    return ids[kept], places[kept]


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
