"""Least squares of a spot whose light is a sum with unknown factors, by Levenberg and Marquardt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array
from tracing.spot_model import (
    CHANGE_SD,
    COUNT,
    HIGH,
    LIKELY_CHANGE,
    LOW,
    MOST_BLUR,
    SLOPE_SD,
    Known,
    Window,
)

LEAST_NOISE, FIRST_NOISE = 0.015, 0.2
STRANGE = 2.5
"""Times the noise: how much light may be left where it still counts."""
TURNS = 4


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Parameters (7,), what each place counts (P,), noise, cover (P,), factors (6, 3), ..."""

    p: Array
    weight: Array
    noise: float
    cover: Array
    factors: Array
    surprise: float
    curvature: Array  # (7, 7) of half the surprise


def first_weight(window: Window, p: Array) -> Array:
    """Return what places count at first, (P,): least absolute rest, the nearer the more."""
    near = np.exp(-0.5 * (window.away / (1.4 * window.radius_px + 1.0)) ** 2)
    weight, cover = near, window.cover(p)
    for _ in range(6):
        factors, *_ = _mixed(window, cover, weight, 0.1)
        left = np.sqrt((window.rest(cover, factors) ** 2).mean(axis=1))
        weight = near / np.maximum(left, 0.03)
        weight = weight / weight.max()
    return weight


def reweighted(window: Window, state: State) -> tuple[Array, float]:
    """Return what places count by what is left there, (P,), and the noise of those near by."""
    squares = (window.rest(state.cover, state.factors) ** 2).mean(axis=1)
    close = window.away < 1.8 * np.exp(state.p[2]) + 2.0
    usual = 1.2 * float(np.sqrt(np.median(squares[close]))) if close.sum() > 10 else FIRST_NOISE
    noise = max(LEAST_NOISE, min(state.noise, usual))
    return np.exp(-0.5 * squares / (STRANGE * noise) ** 2), noise


def settled(
    window: Window,
    p: Array,
    known: Known,
    weight: Array,
    noise: float,
    most_blur: float,
) -> State:
    """Return the parameters of least squares from ``p`` on (Levenberg and Marquardt's way)."""
    high = np.array([*HIGH[:5], np.log(most_blur), HIGH[6]])
    p = np.clip(p, LOW, high)
    most = np.array([window.radius_px, window.radius_px, 0.4, 0.5, 0.5, 0.4, 0.1])
    cover = window.cover(p)
    factors, rest, space = _mixed(window, cover, weight, noise)
    surprise, damp = float((rest**2).sum()) / noise**2 + known.surprise(p), 1e-3
    for turn in range(TURNS + 1):
        slopes = _slopes(window, p, cover, weight, space)
        pull = factors[0] @ factors[0] / noise**2
        curvature = slopes.T @ slopes * pull + np.diag(known.sd**-2)
        way = slopes.T @ (rest @ factors[0]) / noise**2 - (p - known.mean) / known.sd**2
        if turn == TURNS:
            break
        for _ in range(4):
            step = np.linalg.solve(curvature + damp * np.diag(np.diag(curvature)), way)
            tried = np.clip(p + np.clip(step, -most, most), LOW, high)
            tried_cover = window.cover(tried)
            found = _mixed(window, tried_cover, weight, noise)
            now = float((found[1] ** 2).sum()) / noise**2 + known.surprise(tried)
            if now < surprise:
                break
            damp *= 8.0
        else:
            break
        gain, surprise, damp = surprise - now, now, max(damp / 5.0, 1e-5)
        p, cover, (factors, rest, space) = tried, tried_cover, found
        if gain < 0.3:
            break
    return State(p, weight, noise, cover, factors, surprise, curvature)


def _mixed(window: Window, cover: Array, weight: Array, noise: float) -> tuple[Array, Array, Array]:
    """Return the best factors, (6, 3), what is left, weighted, and the basis' own space.

    The rows after those of the places hold what an ink is likely to take.
    """
    root, prior = np.sqrt(weight)[:, None], noise / np.array([CHANGE_SD, SLOPE_SD, SLOPE_SD])
    basis = np.vstack([window.basis(cover) * root, np.eye(3, 6) * prior[:, None], 1e-6 * np.eye(6)])
    likely = np.outer([LIKELY_CHANGE * prior[0], 0.0, 0.0], np.ones(3))
    light = np.vstack([window.light * root, likely, np.zeros((6, 3))])
    space, upper = np.linalg.qr(basis)
    factors = np.linalg.solve(upper, space.T @ light)
    return factors, light - basis @ factors, space


def _slopes(window: Window, p: Array, cover: Array, weight: Array, space: Array) -> Array:
    """Return what each parameter changes of the cover beyond the basis, (P + 9, 7)."""
    step = 1e-3
    moved = (window.cover(p + step * np.eye(COUNT)) - cover) / step
    rows = np.vstack([(moved * np.sqrt(weight)).T, np.zeros((9, COUNT))])
    return np.asarray(rows - space @ (space.T @ rows))


def most_blur_px(mm_per_px: float) -> float:
    """Return the softest border that a dot's picture may have."""
    return max(MOST_BLUR[0], MOST_BLUR[1] / mm_per_px)
