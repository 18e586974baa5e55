"""Where a printed corner lies, to a few hundredths of a pixel, and whether it is one.

At an inner corner of a ChArUco card four edges meet, black and white changing sides across it.
Each edge is averaged along its length, so noise goes down with the edge's length, and the
neighbouring markers, seen alike from both ends, cancel.  A corner counts only if all four of
its edges are there and run through it: what is covered fails.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.card import Card
from calibration.frames import Array, Image

Ids = NDArray[np.int64]

REACH = 0.40
"""How far along an edge is looked, in squares; the next corner is one square away."""
SKIP = 0.07
"""What is left out round the corner itself, where the other edge is blurred in."""
WIDTH = 0.085
"""How far across an edge is looked; a marker begins (9 - 7) / 2 / 9 = 0.11 squares away."""
LEAST_STEP = 6.0
"""Least step from black to white, grey levels."""
LEAST_RATIO = 0.5
"""Least step of a corner's faintest half edge over its strongest."""
APART, APART_PX = 0.025, 0.5
"""How far an edge's halves may lie apart beyond what is usual, in squares, at least in px."""
STRAY = 0.25
"""How far from its start a corner may be found, in squares."""
ROUNDS = 5
LEAST_SIDE_PX = 8.0


def find_corners(grey: Image, card: Card, ids: Ids, start: Array, slopes: Array) -> Array:
    """Return the corners' places, (N, 2) px; NaN where no printed corner is seen.

    Parameters
    ----------
    grey : (H, W) array
    ids : (N,) array of inner corners' ids
    start : (N, 2) array
        Where they are expected, px, to within a tenth of a square.
    slopes : (N, 2, 2) array
        Pixels per square there; the columns belong to the card's x and y.
    """
    places, apart = np.full((len(ids), 2), np.nan), np.full((len(ids), 2), np.nan)
    for i, corner in enumerate(ids.tolist()):
        found = _refine(grey, start[i], slopes[i], 1.0 if _black_first(card, corner) else -1.0)
        if found is not None:
            places[i], apart[i] = found
    seen = np.isfinite(apart).all(axis=1)
    if seen.any():
        # Blur draws each half edge away from its marker, all over the card by the same amount.
        odd = np.abs(apart - np.median(apart[seen])).max(axis=1)
        side = np.sqrt(np.abs(np.linalg.det(slopes)))
        places[~(odd <= np.maximum(APART, APART_PX / np.maximum(side, 1.0)))] = np.nan
    return places


def _black_first(card: Card, corner_id: int) -> bool:
    """Return whether the square above and left of an inner corner is black."""
    row, column = divmod(corner_id, card.columns - 1)
    return (row + column) % 2 == 0


def _refine(grey: Image, start: Array, slope: Array, sign: float) -> tuple[Array, Array] | None:
    """Return a corner's place, px, and how far its edges' halves lie apart, (2,) squares."""
    side = float(np.sqrt(abs(np.linalg.det(slope))))
    if not np.isfinite(side) or side < LEAST_SIDE_PX:
        return None
    count = int(np.clip(round(2 * REACH * side), 17, 161)) | 1
    places = np.linspace(-REACH, REACH, count)
    moved, apart = np.zeros(2), np.zeros(2)
    for _ in range(ROUNDS):
        patch = _patch(grey, start + slope @ moved, slope, places)
        edges = None if patch is None else _edges(patch, places, sign)
        if edges is None:
            return None
        move, apart = edges
        moved = moved + move
        if np.abs(moved).max() > STRAY:
            return None
        if np.abs(move).max() * side < 0.002:
            break
    return start + slope @ moved, apart


def _patch(grey: Image, at: Array, slope: Array, places: Array) -> Array | None:
    """Return the picture round a place on the card's own axes; None at its border."""
    u, v = np.meshgrid(places, places)
    x = at[0] + slope[0, 0] * u + slope[0, 1] * v
    y = at[1] + slope[1, 0] * u + slope[1, 1] * v
    height, width = grey.shape
    x0, y0 = int(np.floor(x.min())) - 2, int(np.floor(y.min())) - 2
    x1, y1 = int(x.max()) + 4, int(y.max()) + 4
    if x0 < 0 or y0 < 0 or x1 > width or y1 > height:
        return None
    cut = np.ascontiguousarray(grey[y0:y1, x0:x1], dtype=np.float32)
    maps = (x - x0).astype(np.float32), (y - y0).astype(np.float32)
    return np.asarray(cv2.remap(cut, *maps, cv2.INTER_CUBIC), dtype=np.float64)


def _edges(patch: Array, places: Array, sign: float) -> tuple[Array, Array] | None:
    """Return where the two edges cross, and how far their halves lie apart, in squares."""
    across, down = _edge(patch, places, sign), _edge(patch.T, places, sign)
    if across is None or down is None:
        return None
    return np.array([across[0], down[0]]), np.array([across[1], down[1]])


def _edge(patch: Array, places: Array, sign: float) -> tuple[float, float] | None:
    """Return where the edge down the patch's middle lies, and its halves' distance."""
    window = np.abs(places) <= 1.3 * WIDTH
    along = np.abs(places) > SKIP
    u = places[window]
    above = -sign * patch[np.ix_(along & (places > 0), window)].mean(axis=0)
    below = sign * patch[np.ix_(along & (places < 0), window)].mean(axis=0)
    steps = [_step(above, u), _step(below, u)]
    if min(steps) < max(LEAST_STEP, LEAST_RATIO * max(steps)):
        return None
    apart = _crossing(above, u) - _crossing(below, u)
    return _crossing(above + below, u), sign * apart


def _step(profile: Array, u: Array) -> float:
    side = (np.abs(u) > 0.03) & (np.abs(u) <= WIDTH)
    return float(profile[side & (u > 0)].mean() - profile[side & (u < 0)].mean())


def _crossing(profile: Array, u: Array) -> float:
    """Return the middle of a rise, weighted by its slope squared, within the window."""
    slope = np.maximum(np.gradient(profile, u), 0.0)
    weight = np.where(np.abs(u) <= WIDTH, slope**2, 0.0)
    total = float(weight.sum())
    return float((weight * u).sum()) / total if total > 0 else 1.0
