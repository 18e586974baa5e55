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
LEAST_DARKER, MOST_DARKER = 0.04, 0.6
REACH_MM, TAP_MM = 1.5, 0.8
ALONE_MM, EDGE_MM = 1.1, 0.6
APART_MM = 0.35
GRAIN_MM, CALM_MM, CALM_BESIDE_MM, CALM = 0.22, 0.75, 0.6, 0.1
"""Over which the light's spread is taken; so far inward of an edge and to either side it is
skin's, about so much; hair's is far more."""
ROUGHER = 2.5
"""Times the skin's spread: on which side the skin lies is then sure."""


class Place(NamedTuple):
    """A place, (2,) px, the turn (rad) of the edge's normal there, whether it points from skin."""

    centre: Array
    turn_rad: float
    sure: bool


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
    raw = -(light @ INK)
    dark = gaussian_filter(raw, max(SMOOTH_MM / mm_per_px, 0.6))
    height, width = dark.shape
    y, x = np.mgrid[:height, :width]
    away = np.hypot(x - near[0], y - near[1]) * mm_per_px
    darker, turn, sure = _darker(dark, _spread(raw, mm_per_px), away <= REACH_MM, mm_per_px)
    row, column = np.nonzero((darker == maximum_filter(darker, size=3)) & (darker > LEAST_DARKER))
    clear = np.minimum(darker[row, column], MOST_DARKER)
    likely = clear * np.exp(-0.5 * (away[row, column] / TAP_MM) ** 2)
    best: list[Place] = []
    for i in np.argsort(-likely):
        r, c = int(row[i]), int(column[i])
        centre = np.array([c, r], dtype=np.float64)
        if any(np.hypot(*(centre - other.centre)) * mm_per_px < APART_MM for other in best):
            continue
        normal = _turn(dark, r, c, float(darker[r, c]), mm_per_px)
        if np.cos(normal - turn[r, c]) < 0.0:
            normal += np.pi
        best.append(Place(centre, normal, bool(sure[r, c])))
        if len(best) == most:
            break
    return best


def _spread(dark: Light, mm_per_px: float) -> Light:
    """Return the standard deviation of the darkness round each place, (H, W)."""
    sigma = max(GRAIN_MM / mm_per_px, 1.0)
    middle, squares = gaussian_filter(dark, sigma), gaussian_filter(dark**2, sigma)
    return np.asarray(np.sqrt(np.maximum(squares - middle**2, 0.0)))


def _darker(
    dark: Light, spread: Light, near: NDArray[np.bool_], mm_per_px: float
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Return how much darker places are than along some edge and inward of it, (H, W).

    Also the turn of the edge's normal, away from skin, and whether that side is sure.
    """
    height, width = dark.shape
    row, column = np.nonzero(near)
    best, turns = np.full(len(row), -1.0), np.zeros(len(row))
    sure = np.zeros(len(row), dtype=bool)

    def at(of: Light, way: Array) -> Array:
        dx, dy = np.rint(way / mm_per_px).astype(int)
        seen = of[np.clip(row + dy, 0, height - 1), np.clip(column + dx, 0, width - 1)]
        return np.asarray(seen, dtype=np.float64)

    for turn in np.linspace(0.0, 2 * np.pi, TURNS, endpoint=False):
        out = np.array([np.cos(turn), np.sin(turn)])
        on = np.array([-out[1], out[0]])
        beside = np.maximum(at(dark, BESIDE_MM * on), at(dark, -BESIDE_MM * on))
        less = dark[row, column] - np.maximum(beside, at(dark, -INWARD_MM * out))
        grains = [
            at(spread, side * CALM_MM * out + aside * CALM_BESIDE_MM * on)
            for side, aside in ((-1, 0), (-1, 1), (-1, -1), (1, 0), (1, 1), (1, -1))
        ]
        inner, outer = np.max(grains[:3], axis=0), np.max(grains[3:], axis=0)
        less = less * np.exp(-0.5 * (inner / CALM) ** 2)
        better = less > best
        best[better], turns[better] = less[better], turn
        sure[better] = outer[better] > ROUGHER * np.maximum(inner[better], 0.03)
    darker, turned, known = np.full(dark.shape, -1.0), np.zeros(dark.shape), near & False
    darker[row, column], turned[row, column], known[row, column] = best, turns, sure
    return darker, turned, known


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
