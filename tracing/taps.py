"""The taps' own curve, and how far the contour may lie from it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline

from calibration.frames import Array
from tracing.strip import Guide, chords, through

TAP_MM = 0.5
"""Standard deviation of a tap."""
BOW_MM = 0.14
"""How far a contour leaves the curve midway between taps 10 mm apart, standard deviation."""
FLATTEST, ROUND = 5.0, 1.9 * np.pi
"""Taps whose circle has a radius of more of their lengths, or that run round more than that,
are joined without it."""
PLACES = 60
LEAST, ROUNDER = 3, 0.75
"""Taps that lie on their circle, and the circle's share in their curve; the rest is the
parabola's."""


def along_taps(taps: Array, step_px: float) -> Guide:
    """Return a smooth guide through taps in order; its normals point out of their bend.

    A rim is round: the distance from the taps' own circle is interpolated over the angle.  Three
    taps, which lie on their circle, give a curve between it and the parabola through them.

    Parameters
    ----------
    taps : (N, 2) array, px, N at least 3, no two neighbours the same
    step_px : float
        About how far apart its places are.
    """
    middle, radius = _circle(taps)
    apart = taps - middle
    angle = np.unwrap(np.arctan2(apart[:, 1], apart[:, 0]))
    steps = np.diff(angle)
    one_way = bool((steps > 0).all() or (steps < 0).all()) and abs(steps.sum()) < ROUND
    if not one_way or radius > FLATTEST * chords(taps)[-1]:
        return _outward(through(taps, step_px), taps)
    turn = float(np.sign(steps[0]))
    places = np.linspace(turn * angle[0], turn * angle[-1], PLACES)
    ring = np.column_stack([np.cos(turn * places), np.sin(turn * places)])
    if len(taps) > LEAST:
        reach = make_interp_spline(turn * angle, np.hypot(*apart.T), k=3)(places)
        points = middle + reach[:, None] * ring
    else:
        along = chords(taps)
        bow = make_interp_spline(along, taps, k=2)(np.interp(places, turn * angle, along))
        points = ROUNDER * (middle + radius * ring) + (1 - ROUNDER) * bow
    guide = through(points, step_px)
    out = float(np.einsum("ij,ij->i", guide.points - middle, guide.normals).mean())
    return guide if out > 0 else guide.turned()


def _circle(taps: Array) -> tuple[Array, float]:
    """Return the circle nearest to the taps in the sense of their squared distances' squares."""
    about = taps.mean(axis=0)
    local = taps - about
    rows = np.column_stack([2.0 * local, np.ones(len(local))])
    a, b, c = np.linalg.lstsq(rows, (local**2).sum(axis=1), rcond=None)[0]
    return about + np.array([a, b]), float(np.sqrt(c + a * a + b * b))


def _outward(guide: Guide, taps: Array) -> Guide:
    """Return the guide with normals that point away from the side toward which it bends."""
    half = len(guide.points) // 2
    inward = (taps[0] + taps[-1]) / 2 - guide.points[half]
    return guide.turned() if float(guide.normals[half] @ inward) > 0 else guide


def rows_of(guide: Guide, taps: Array) -> NDArray[np.int64]:
    """Return the row of the guide nearest to each tap, (N,)."""
    away = np.hypot(*(guide.points[:, None] - taps[None]).transpose(2, 0, 1))
    return np.asarray(away.argmin(axis=0), dtype=np.int64)


def spread_mm(rows: NDArray[np.int64], count: int, row_mm: float) -> Array:
    """Return how far the contour may lie from the taps' curve, standard deviation, (S,) mm."""
    spread = np.full(count, TAP_MM)
    ordered = np.sort(rows)
    for a, b in pairwise(ordered):
        if b > a:
            share = (np.arange(a, b + 1) - a) / (b - a)
            bow = BOW_MM * ((b - a) * row_mm / 10.0) ** 2 * 4 * share * (1 - share)
            spread[a : b + 1] = np.hypot(TAP_MM, bow)
    return spread
