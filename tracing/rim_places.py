"""Where a dark sliver may lie along a rim's edge: darker than along the edge and than inward."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, maximum_filter

from calibration.frames import Array
from tracing.light import Light
from tracing.spot_judge import INK

TURNS = 24
"""Directions in which an edge is looked for."""
BESIDE_MM, INWARD_MM, SMOOTH_MM = 1.0, 0.55, 0.1
SKIN_MM, ASIDE_MM, ALMOST_MM = (0.5, 0.65), (0.0, -0.7, 0.7), 0.12
"""How far inward skin lies that is brighter, and even; how far aside; and how far inward of its
edge that beside the sliver is."""
ROUGH_MM, ROUGHER = 0.15, 1.5
"""Size of what makes skin uneven, and how much less likely that is, by its contrast."""
LEAST_DARKER, LEAST_APART_MM = 0.03, 0.25
REACH_MM, TAP_MM = 1.9, 0.8


class Place(NamedTuple):
    """A place, (2,) px, and the turn (rad) of the normal of the edge there, outward."""

    centre: Array
    turn_rad: float


def rim_places(light: Light, near: Array, mm_per_px: float, most: int) -> list[Place]:
    """Return where even skin may end in a dark sliver, the likeliest first.

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
    by, turn = _likely(light, dark, away <= REACH_MM, mm_per_px)
    row, column = np.nonzero((by == maximum_filter(by, size=3)) & (by > LEAST_DARKER))
    likely = by[row, column] * np.exp(-0.5 * (away[row, column] / TAP_MM) ** 2)
    found: list[Place] = []
    for i in np.argsort(-likely):
        at = np.array([column[i], row[i]], dtype=np.float64)
        apart = [float(np.hypot(*(at - other.centre))) * mm_per_px for other in found]
        if min(apart, default=np.inf) > LEAST_APART_MM:
            found.append(Place(at, float(turn[row[i], column[i]])))
        if len(found) == most:
            break
    return found


def _likely(
    light: Light, dark: Light, near: NDArray[np.bool_], mm_per_px: float
) -> tuple[Array, Array]:
    """Return how much darker places are than even skin inward of an edge and along it.

    Returns
    -------
    That, and the turn of the edge's normal, (H, W) each; -1 and 0 where not ``near``.
    """
    row, column = np.nonzero(near)
    rough = _roughness(light, mm_per_px)
    best, turned = np.full(len(row), -1.0), np.zeros(len(row))
    for turn in np.linspace(0.0, 2 * np.pi, TURNS, endpoint=False):
        out = np.array([np.cos(turn), np.sin(turn)])
        on = np.array([-out[1], out[0]])

        def at(seen: Light, along: float, inward: float, out: Array = out, on: Array = on) -> Array:
            return _shifted(seen, row, column, (along * on - inward * out) / mm_per_px)

        brighter = [at(dark, aside, SKIN_MM[0]) for aside in ASIDE_MM]
        brighter += [at(dark, aside, ALMOST_MM) for aside in (-BESIDE_MM, BESIDE_MM)]
        uneven = np.maximum.reduce([at(rough, aside, SKIN_MM[1]) for aside in ASIDE_MM])
        by = dark[row, column] - np.maximum.reduce(brighter) - ROUGHER * uneven
        better = by > best
        best[better], turned[better] = by[better], turn
    maps = np.full(dark.shape, -1.0), np.zeros(dark.shape)
    maps[0][row, column], maps[1][row, column] = best, turned
    return maps


def _shifted(seen: Light, row: NDArray[np.intp], column: NDArray[np.intp], way: Array) -> Array:
    """Return what is seen a way, (2,) px, from places, (K,) each; beyond the border the border."""
    height, width = seen.shape
    dx, dy = np.rint(way).astype(int)
    there = seen[np.clip(row + dy, 0, height - 1), np.clip(column + dx, 0, width - 1)]
    return np.asarray(there, dtype=np.float64)


def _roughness(light: Light, mm_per_px: float) -> Light:
    """Return how uneven the light is in the small, (H, W)."""
    size = max(ROUGH_MM / mm_per_px, 1.0)
    seen = light @ INK
    return np.asarray(np.sqrt(gaussian_filter((seen - gaussian_filter(seen, size)) ** 2, size)))


def darkness(light: Light, mm_per_px: float, weights: Array | Light = INK) -> Light:
    """Return how dark places are for ink, by weights of colours (3,), smoothed a little, (H, W)."""
    return np.asarray(gaussian_filter(-(light @ weights), max(SMOOTH_MM / mm_per_px, 0.6)))


def darker(dark: Light, near: NDArray[np.bool_], mm_per_px: float) -> Array:
    """Return how much darker places are than along some edge and inward of it, (H, W).

    -1 where not ``near``.
    """
    row, column = np.nonzero(near)
    best = np.full(len(row), -1.0)
    for turn in np.linspace(0.0, 2 * np.pi, TURNS, endpoint=False):
        out = np.array([np.cos(turn), np.sin(turn)]) / mm_per_px
        on = np.array([-out[1], out[0]])
        ways = (BESIDE_MM * on, -BESIDE_MM * on, -INWARD_MM * out)
        brighter = np.maximum.reduce([_shifted(dark, row, column, way) for way in ways])
        best = np.maximum(best, dark[row, column] - brighter)
    found = np.full(dark.shape, -1.0)
    found[row, column] = best
    return found
