"""An elliptic spot with a soft border on sloping ground, fitted to a picture's log light.

What is neither the spot nor its ground (hairs, cloth, another dot, the far side of an edge) is
found by what the fit leaves there, and counts less and less.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array
from tracing.light import Light, light_at
from tracing.spot_hidden import hidden_px
from tracing.spot_model import Known, Window, axes_of
from tracing.spot_solve import (
    FIRST_NOISE,
    LEAST_NOISE,
    State,
    first_weight,
    most_blur_px,
    reweighted,
    settled,
)
from tracing.spot_start import begun

STAGES = 5
FIRST_BLUR_PX = 1.5
MOST_PLACES = 900
LEAST_PLACES = 20
HOPELESS = 0.3, 2.5
"""Mean change of log light, and length in mm."""
SKIN_ROUND_MM, ROUND_BENT_SD = 2.9, 0.015
"""Radius to which a rim's edge is rounded, half a band of 5.8 mm."""
SKIN_ENDS = 0.25
"""Change of log light by which skin shows that it ends."""
SIDE_KNOWN, SIDE_SHARE = 3.0, 0.03
"""Log odds that the skin turns away to where it ends; share of the fit's own log odds that is
believed, for what it leaves is not noise alone."""
NEARLY_ROUND = 0.92
CALM = 0.08
"""Log light by which smooth skin differs from its slope."""


@dataclass(frozen=True, slots=True, eq=False)
class SpotFit:
    """A spot in the picture.

    ``centre`` and ``start``, where the fit began, are (2,) px; ``half_axes``, the longer first,
    and the border's ``blur_px`` too; ``turn_rad`` is the longer one's.
    ``change`` (3, 3) is what the ink adds to the log light of red, green and blue where the fit
    began, and its slopes in x and y, a px; ``ground`` (3, 3) the same of the skin; ``ends``
    whether the skin soon ends on one side.
    ``explained`` is the share of the squares round the spot that it explains beyond the ground;
    ``noise`` the rest, ``rough`` that beside the spot; ``around`` and ``within`` the shares of
    the skin just round the spot and of the spot that look as they should, ``calm`` the share of
    all beside the spot that looks like smooth skin.
    ``hidden_px`` is the standard uncertainty, each axis, from not knowing whether brighter skin
    hides part of it.
    ``u_px`` is the standard uncertainty of the centre, each axis, from the rest and from not
    knowing to which side the skin turns away.
    ``flat`` says that it was fitted on skin whose curved shading was taken off.
    """

    centre: Array
    start: Array
    half_axes: tuple[float, float]
    turn_rad: float
    blur_px: float
    change: Array
    ground: Array
    ends: bool
    explained: float
    noise: float
    rough: float
    around: float
    within: float
    calm: float
    hidden_px: float
    u_px: float
    flat: bool = False


def fit_spot(
    light: Light,
    centre: Array,
    radius_px: float,
    window_px: float,
    others: Array,
    mm_per_px: float,
) -> SpotFit | None:
    """Return the spot that fits best near a place, or None where that can't be told.

    Parameters
    ----------
    light : (H, W, 3) array
    centre : (2,) array, px
    radius_px : float
        About its radius.
    window_px : float
        Radius of the part of the picture that is looked at.
    others : (K, 2) array, px
        Other places like it: what lies nearer to one of them is left out.
    mm_per_px : float
    """
    window = _window(light, centre, radius_px, window_px, others)
    if len(window.x) < LEAST_PLACES:
        return None
    known = Known.of(radius_px)
    window, start = begun(window, known.mean)
    weight = first_weight(window, start)
    state = settled(window, start, known, weight, FIRST_NOISE, FIRST_BLUR_PX)
    last_blur = most_blur_px(mm_per_px)
    for stage in range(1, STAGES):
        weight, noise = reweighted(window, state)
        most_blur = FIRST_BLUR_PX if stage < 3 else last_blur
        state = settled(window, state.p, known, weight, noise, most_blur)
        if stage > 1 and _is_hopeless(state, mm_per_px):
            return _told(window, (state, state), 0.5, False, 0.0, centre)
    sides, odds, ends = _sides(light, window, state, known, centre, mm_per_px)
    hidden = hidden_px(light, window, state, centre, mm_per_px)
    return _told(window, sides, odds, ends, hidden, centre)


def _is_hopeless(state: State, mm_per_px: float) -> bool:
    """Return whether a spot is much too faint or too long to become a dot's."""
    faint = float(-state.factors[0].mean()) < HOPELESS[0]
    return faint or 2.0 * float(axes_of(state.p)[0]) * mm_per_px > HOPELESS[1]


def _window(
    light: Light, centre: Array, radius_px: float, window_px: float, others: Array
) -> Window:
    height, width = light.shape[:2]
    low = np.clip(np.floor(centre - window_px), 0, [width, height]).astype(int)
    high = np.clip(np.ceil(centre + window_px) + 1, low, [width, height]).astype(int)
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    away = np.hypot(x - centre[0], y - centre[1])
    near = away <= window_px
    for other in others:
        near &= away <= np.hypot(x - other[0], y - other[1])
    if near.sum() > 2 * MOST_PLACES:
        near &= (x + y) % 2 == 0
    values = light[low[1] : high[1], low[0] : high[0]][near].astype(np.float64)
    return Window(x[near] - centre[0], y[near] - centre[1], values, radius_px)


def _sides(
    light: Light, window: Window, state: State, known: Known, centre: Array, mm_per_px: float
) -> tuple[tuple[State, State], float, bool]:
    """Return the spot with the skin turning away to either side, the odds, whether it ends.

    The odds are of the second.  A nearly round spot is its own picture's middle.
    """
    long, short, _ = axes_of(state.p)
    if short > NEARLY_ROUND * long:
        return (state, state), 0.5, False
    bend = float(long) * mm_per_px / (2.0 * SKIN_ROUND_MM)
    both = []
    for side in (-bend, bend):
        start = np.array([*state.p[:6], side])
        more = known.rounded(side, ROUND_BENT_SD)
        most_blur = most_blur_px(mm_per_px)
        both.append(settled(window, start, more, state.weight, state.noise, most_blur))
    ends = _end(light, state.p, centre, mm_per_px)
    told = SIDE_SHARE * (both[0].surprise - both[1].surprise) / 2 + SIDE_KNOWN * ends
    odds = float(1.0 / (1.0 + np.exp(-np.clip(told, -30, 30))))
    return (both[0], both[1]), odds, ends != 0


def _end(light: Light, p: Array, centre: Array, mm_per_px: float) -> int:
    """Return to which side of its long axis the skin soon ends, -1 or 1; 0 if to neither."""
    _, short, turn = axes_of(p)
    normal = np.array([-np.sin(turn), np.cos(turn)])
    middle = centre + p[:2]
    ways = np.arange(0.5, 2.0, 0.1) / mm_per_px + short
    ends = [light_at(light, middle + side * ways[:, None] * normal) for side in (-1.0, 1.0)]
    near = (ends[0][:3].mean(axis=0) + ends[1][:3].mean(axis=0)) / 2
    strange = [float(np.sqrt(((end - near) ** 2).mean())) for end in ends]
    if max(strange) < SKIN_ENDS or max(strange) < 1.5 * min(strange):
        return 0
    return 1 if strange[1] > strange[0] else -1


def _told(
    window: Window,
    sides: tuple[State, State],
    odds: float,
    ends: bool,
    hidden_px: float,
    centre: Array,
) -> SpotFit:
    state = sides[1] if odds > 0.5 else sides[0]
    weight, rest = state.weight, window.rest(state.cover, state.factors)
    long, short, turn = (float(v) for v in axes_of(state.p))
    c, s = np.cos(turn), np.sin(turn)
    dx, dy = window.x - state.p[0], window.y - state.p[1]
    rho = np.hypot((c * dx + s * dy) / long, (-s * dx + c * dy) / short)
    round_it = (rho > 1.0) & (rho < 1.0 + max(0.5, 2.5 / short))
    beside, within = rho > 1.15, rho < max(1.0 - 0.5 / short, 0.5)
    noise = _rough(rest, weight, np.ones_like(beside))
    covariance = np.linalg.inv(state.curvature) * (noise / state.noise) ** 2
    apart = sides[1].p[:2] - sides[0].p[:2]
    doubt = odds * (1.0 - odds) * float(apart @ apart) / 2.0
    per = np.array([[1.0], [window.radius_px], [window.radius_px]])
    smooth = np.sqrt((rest[beside] ** 2).mean(axis=1)) < CALM
    return SpotFit(
        centre + sides[0].p[:2] + odds * apart,
        centre,
        (long, short),
        turn,
        float(np.exp(state.p[5])),
        state.factors[:3] / per,
        state.factors[3:] / per,
        ends,
        _explained(window, state, rest),
        noise,
        _rough(rest, weight, beside),
        _share(weight, round_it),
        _share(weight, within),
        _share(smooth, np.ones_like(smooth)),
        hidden_px,
        float(np.sqrt(np.trace(covariance[:2, :2]) / 2 + doubt)),
    )


def _rough(rest: Array, weight: Array, where: NDArray[np.bool_]) -> float:
    """Return the root mean square of what is left there, by what places count."""
    squares = float((weight[where, None] * rest[where] ** 2).sum())
    return max(LEAST_NOISE, float(np.sqrt(squares / (3.0 * max(weight[where].sum(), 1e-9)))))


def _share(of: Array | NDArray[np.bool_], where: NDArray[np.bool_]) -> float:
    return float(of[where].mean()) if where.any() else 0.0


def _explained(window: Window, state: State, rest: Array) -> float:
    """Return which share of the squares the spot explains that the ground alone leaves."""
    root = np.sqrt(state.weight)[:, None]
    ground = window.basis(state.cover)[:, 3:] * root
    factors, *_ = np.linalg.lstsq(ground, window.light * root, rcond=None)
    bare = float(((window.light * root - ground @ factors) ** 2).sum())
    return 1.0 - float(((rest * root) ** 2).sum()) / max(bare, 1e-12)
