"""An elliptic spot with a soft border on sloping ground, fitted to a picture's log light."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from calibration.frames import Array
from tracing.light import Light
from tracing.spot_model import CAMERA_BLUR_PX, CUT, Window, axes_of

LEAST_NOISE = 0.012
EDGE_GAIN = 0.65
"""A border is taken for real where the rest of the squares falls to this share with it."""
SKIN_ROUND_MM = 2.7
"""Radius to which a rim's edge is rounded: half a band of 5.4 mm."""
SKIN_ENDS = 0.25
"""Change of log light by which skin shows that it ends."""
MOST_TURNS = 25


@dataclass(frozen=True, slots=True, eq=False)
class SpotFit:
    """A spot in the picture.

    ``centre`` and ``start``, where the fit began, are (2,) px; ``half_axes``, the longer first,
    and the border's ``blur_px`` too.
    ``change`` (3,) is red, green, blue; ``ground`` (3, 3) the light where the fit began, and
    its slopes in x and y; ``beyond``, where there is a border, its normal, its distance from
    there and the light behind it, (6,); ``ends`` whether the skin soon ends on one side;
    ``explained`` the share of the squares round the spot that it explains beyond the ground;
    ``noise`` the rest; ``u_px`` the standard uncertainty of the centre, each axis, from the rest.
    """

    centre: Array
    start: Array
    half_axes: tuple[float, float]
    blur_px: float
    change: Array
    ground: Array
    beyond: Array | None
    ends: bool
    explained: float
    noise: float
    u_px: float


def _solved(window: Window, start: Array, noise: float) -> Array:
    """Return the parameters of least squares."""
    steps = np.array([0.5, 0.5, 0.3, 0.3, 0.3, 0.3, 0.1, 0.3, 0.5])[: len(start)]
    reach = 2.5 * window.radius_px + 1.0
    far = np.array([reach, reach, np.inf, 2.5, 2.5, np.inf, 0.5, np.inf, 2 * reach])[: len(start)]
    low, high = -far, far.copy()
    low[[2, 5]], high[[2, 5]] = (-1.5, -1.0), (5.0, 3.0)
    found = least_squares(
        window.residuals,
        np.clip(start, low + 1e-6, high - 1e-6),
        bounds=(low, high),
        x_scale=steps,
        max_nfev=MOST_TURNS,
        ftol=1e-5,
        xtol=1e-5,
        args=(noise,),
    )
    return np.asarray(found.x)


def fit_spot(
    light: Light,
    centre: Array,
    radius_px: float,
    window_px: float,
    others: Array,
    mm_per_px: float,
    *,
    cut: bool,
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
    cut : bool
        Whether a border is looked for; None is returned where none is found.
    """
    window = _window(light, centre, radius_px, window_px, others)
    if len(window.x) < 20:
        return None
    size = np.log(radius_px)
    p = np.array([0.0, 0.0, size, 0.0, 0.0, np.log(CAMERA_BLUR_PX), 0.0])
    if cut:
        p = _border(window, p)
        if len(p) < CUT:
            return None
    noise = 0.05
    for turn in range(2):
        if turn:
            window = replace(window, bend=_rounding(light, p, centre, mm_per_px))
        p = _solved(window, p, noise)
        noise = max(LEAST_NOISE, float(np.sqrt((window.solved(p)[1] ** 2).mean())))
        if cut:
            window = _reweighted(window, p)
    return _told(window, p, centre)


def _rounding(light: Light, p: Array, centre: Array, mm_per_px: float) -> float:
    """Return the skin's likely rounding: toward the side on which the skin soon ends."""
    long, short, turn = axes_of(p)
    if short > 0.85 * long:
        return 0.0
    normal = np.array([-np.sin(turn), np.cos(turn)])
    middle = centre + p[:2]
    ways = np.arange(0.5, 2.0, 0.1) / mm_per_px + short
    ends = [_light_at(light, middle + side * ways[:, None] * normal) for side in (-1.0, 1.0)]
    near = (ends[0][:3].mean(axis=0) + ends[1][:3].mean(axis=0)) / 2
    strange = [float(np.sqrt(((end - near) ** 2).mean())) for end in ends]
    if max(strange) < SKIN_ENDS or max(strange) < 1.5 * min(strange):
        return 0.0
    size = long * mm_per_px / (2.0 * SKIN_ROUND_MM)
    return float(size if strange[1] > strange[0] else -size)


def _light_at(light: Light, places: Array) -> Array:
    height, width = light.shape[:2]
    x = np.clip(np.rint(places[:, 0]), 0, width - 1).astype(int)
    y = np.clip(np.rint(places[:, 1]), 0, height - 1).astype(int)
    return np.asarray(light[y, x], dtype=np.float64)


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
    values = light[low[1] : high[1], low[0] : high[0]][near].astype(np.float64)
    x, y = x[near] - centre[0], y[near] - centre[1]
    return Window(x, y, values, radius_px, np.ones(len(x)))


def _border(window: Window, start: Array) -> Array:
    """Return the start with the border that explains most, if one explains much."""
    every = 1 + len(window.x) // 400
    window = replace(
        window,
        x=window.x[::every],
        y=window.y[::every],
        light=window.light[::every],
        weight=window.weight[::every],
    )
    plain = float((window.solved(start)[1] ** 2).sum())
    best, found = EDGE_GAIN * plain, start
    for turn in np.linspace(0.0, 2.0 * np.pi, 12, endpoint=False):
        for away in (0.3, 0.8, 1.4, 2.1):
            tried = np.array([*start, turn, away * window.radius_px])
            rest = float((window.solved(tried)[1] ** 2).sum())
            if rest < best:
                best, found = rest, tried
    return found


def _reweighted(window: Window, p: Array) -> Window:
    """Return the window with what lies beyond the border counted by its own roughness."""
    plain = replace(window, weight=np.ones_like(window.x))
    best, *_ = window.solved(p)
    away = np.sqrt(((plain.light - plain.basis(p) @ best) ** 2).mean(axis=1))
    other = window.beyond(p) > 0.5
    if other.sum() < 5 or (~other).sum() < 15:
        return window
    here, there = (max(LEAST_NOISE, float(np.sqrt((away[m] ** 2).mean()))) for m in (~other, other))
    return replace(window, weight=np.where(other, min(1.0, here / there), 1.0))


def _told(window: Window, p: Array, centre: Array) -> SpotFit:
    best, rest = window.solved(p)
    noise = max(LEAST_NOISE, float(np.sqrt((rest**2).mean())))
    jacobian = _jacobian(window, p, noise)
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    _, bare = window.solved(p, spot=False)
    long, short, _ = axes_of(p)
    return SpotFit(
        centre + _middle(window, p),
        centre,
        (long, short),
        float(np.exp(p[5])),
        np.asarray(best[0]),
        np.asarray(best[1:4]),
        np.array([np.cos(p[7]), np.sin(p[7]), p[8], *best[4]]) if len(p) == CUT else None,
        window.bend != 0.0 or len(p) == CUT,
        1.0 - float((rest**2).sum() / max((bare**2).sum(), 1e-12)),
        noise,
        float(np.sqrt(max(np.trace(covariance[:2, :2]) / 2, 0.0))),
    )


def _middle(window: Window, p: Array) -> Array:
    """Return the centroid of what is seen of the spot, (2,) px from the window's middle."""
    if len(p) < CUT or p[0] * np.cos(p[7]) + p[1] * np.sin(p[7]) < p[8]:
        return np.asarray(p[:2])
    step = 0.2
    reach = axes_of(p)[0] + 3 * np.exp(p[5])
    x, y = np.meshgrid(np.arange(-reach, reach, step), np.arange(-reach, reach, step))
    fine = replace(window, x=x.ravel() + p[0], y=y.ravel() + p[1])
    seen = fine.spot(p) * (1 - fine.beyond(p))
    if seen.sum() < 1e-6:
        return np.asarray(p[:2])
    return np.array([fine.x @ seen, fine.y @ seen]) / seen.sum()


def _jacobian(window: Window, p: Array, noise: float) -> Array:
    base = window.residuals(p, noise)
    columns = []
    for i in range(len(p)):
        moved = p.copy()
        moved[i] += 1e-4
        columns.append((window.residuals(moved, noise) - base) / 1e-4)
    return np.column_stack(columns)
