"""Where a dark sliver may lie along a rim's edge: darker than along the edge and than inward."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, label, maximum_filter

from calibration.frames import Array
from tracing.light import Light
from tracing.spot_judge import INK

TURNS = 24
"""Directions in which an edge is looked for."""
BESIDE_MM, INWARD_MM, SMOOTH_MM = 1.0, 0.55, 0.1
LEAST_DARKER = 0.08
REACH_MM, TAP_MM = 1.9, 0.8
ALONE_MM, EDGE_MM = 1.1, 0.6


class Place(NamedTuple):
    """A place, (2,) px, and the turn (rad) of the normal of the edge there; of its side nothing."""

    centre: Array
    turn_rad: float


def rim_places(light: Light, near: Array, mm_per_px: float, most: int) -> list[Place]:
    """Return where skin may end in a dark sliver, the likeliest first.

    Parameters
    ----------
    light : (H, W, 3) array
    near : (2,) array, px
        The tap.
    mm_per_px : float
    most : int
    """
    dark = darkness(light, mm_per_px)
    height, width = dark.shape
    y, x = np.mgrid[:height, :width]
    away = np.hypot(x - near[0], y - near[1]) * mm_per_px
    by = darker(dark, away <= REACH_MM, mm_per_px)
    row, column = np.nonzero((by == maximum_filter(by, size=3)) & (by > LEAST_DARKER))
    likely = by[row, column] * np.exp(-0.5 * (away[row, column] / TAP_MM) ** 2)
    best = [(int(row[i]), int(column[i])) for i in np.argsort(-likely)[:most]]
    return [
        Place(np.array([c, r], dtype=np.float64), _turn(dark, r, c, float(by[r, c]), mm_per_px))
        for r, c in best
    ]


def darkness(light: Light, mm_per_px: float) -> Light:
    """Return how dark places are for ink, smoothed a little, (H, W)."""
    return np.asarray(gaussian_filter(-(light @ INK), max(SMOOTH_MM / mm_per_px, 0.6)))


def darker(dark: Light, near: NDArray[np.bool_], mm_per_px: float) -> Array:
    """Return how much darker places are than along some edge and inward of it, (H, W).

    -1 where not ``near``.
    """
    height, width = dark.shape
    row, column = np.nonzero(near)
    best = np.full(len(row), -1.0)

    def at(way: Array) -> Array:
        dx, dy = np.rint(way / mm_per_px).astype(int)
        seen = dark[np.clip(row + dy, 0, height - 1), np.clip(column + dx, 0, width - 1)]
        return np.asarray(seen, dtype=np.float64)

    for turn in np.linspace(0.0, 2 * np.pi, TURNS, endpoint=False):
        out = np.array([np.cos(turn), np.sin(turn)])
        on = np.array([-out[1], out[0]])
        beside = np.maximum(at(BESIDE_MM * on), at(-BESIDE_MM * on))
        best = np.maximum(best, dark[row, column] - np.maximum(beside, at(-INWARD_MM * out)))
    found = np.full(dark.shape, -1.0)
    found[row, column] = best
    return found


def _turn(dark: Light, row: int, column: int, darker: float, mm_per_px: float) -> float:
    """Return the turn of the normal of a sliver that stands alone, else of the edge round it."""
    height, width = dark.shape
    y, x = np.mgrid[:height, :width]
    dx, dy = (x - column) * mm_per_px, (y - row) * mm_per_px
    share = (dark - dark[row, column]) / darker + 1.0
    parts, _ = label((share > 0.4) & (np.hypot(dx, dy) < ALONE_MM))
    own = parts == parts[row, column]
    runs_on = (np.hypot(dx, dy)[own] > ALONE_MM - 1.5 * mm_per_px).any()
    if runs_on or own.sum() < 4:
        gy, gx = np.gradient(dark)
        weight = np.exp(-0.5 * (np.hypot(dx, dy) / EDGE_MM) ** 2)
        along, across = (2 * gx * gy * weight).sum(), ((gx**2 - gy**2) * weight).sum()
        return float(0.5 * np.arctan2(along, across))
    weight = np.clip(share[own], 0.0, 1.5) - 0.3
    places = np.stack([dx[own], dy[own]])
    from_middle = places - (places @ weight / weight.sum())[:, None]
    _, axes = np.linalg.eigh((from_middle * weight) @ from_middle.T)
    return float(np.arctan2(axes[1, 0], axes[0, 0]))
