"""A pen dot half round a rim's edge, fitted as a dark sliver between skin and what lies beyond."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.frames import Array
from tracing.light import FLOOR, Light
from tracing.rim_model import COUNT, HIGH, LIKELY, LOW, SPREAD, Strip, centre_of, depth_mm
from tracing.rim_places import Place

ALONG_MM, ACROSS_MM = 1.4, 0.75
FIRST_NOISE, LEAST_NOISE, STRANGE, CALMING = 0.25, 0.015, 3.0, 0.5
"""Of light over the skin's; places that differ by this many times the noise count little, and the
noise falls by no more than so much from stage to stage."""
FIRST_STAGES, STAGES, STEPS = 2, 6, 4
LIKELY_INK, INK_SD, SLOPE_SD = 0.3, 0.15, (0.3, 0.5)
"""What share of the skin's light is left under ink; slopes of skin and of what lies beyond."""
MOST_TURN = 0.25
HOPELESS, PALE = 0.8, 0.75
CALM = 0.08
MOST_PLACES = 450
AGAIN, AGAIN_NOISE, AGAIN_STAGES = (-0.35, 0.35), 0.08, 2
"""A fit is done again from so many radii along the edge, with more noise at first."""
USUAL_REST, LIKELIER = 0.03, 4.0
"""Rest of light beyond which places count little, and how much less unlikely by that measure a fit
must be to count e times as much as another."""
ROWS = np.diag([1 / INK_SD, 0.0, 1 / SLOPE_SD[0], 1 / SLOPE_SD[0], 0.0, 1 / SLOPE_SD[1]])


@dataclass(frozen=True, slots=True, eq=False)
class RimFit:
    """A sliver in the picture.

    ``centre`` is where the dot's own centre is seen, (2,) px; ``ink`` and ``beyond`` are light
    over the skin's, (3,); ``within`` is the share of the ink that looks as it should, ``calm``
    the share of the skin that looks smooth; ``explained`` is the share of the squares in the ink
    that it explains, ``gain`` how many times the noise's square that is; ``noise`` the skin's
    and the ink's rest; ``u_px`` the standard uncertainty of the centre, each axis, from the rest.
    """

    centre: Array
    radius_mm: float
    before_mm: float
    depth_mm: float
    blur_px: float
    ink: Array
    beyond: Array
    noise: float
    gain: float
    explained: float
    within: float
    calm: float
    u_px: float


@dataclass(frozen=True, slots=True, eq=False)
class _State:
    """Parameters (8,), what each place counts (P,), noise, factors (6, 3), half a curvature."""

    p: Array
    weight: Array
    noise: float
    factors: Array
    curvature: Array


def fit_rim(light: Light, place: Place, mm_per_px: float) -> RimFit | None:
    """Return the sliver that fits best near a place, or None where that can't be told.

    Parameters
    ----------
    light : (H, W, 3) array
    place : where, and how the edge runs there
    mm_per_px : float
    """
    strip = _strip(light, place, mm_per_px)
    if strip is None:
        return None
    strip, state = _sided(strip)
    told = _told(strip, state)
    if told.explained < HOPELESS or float(told.ink.mean()) > PALE:
        return None
    more = float(np.arctan(state.p[1]))
    if abs(more) > MOST_TURN:
        turn = float(np.arctan2(strip.out[1], strip.out[0])) + more
        turned = _strip(light, Place(place.centre, turn), mm_per_px)
        if turned is None:
            return None
        strip = turned
        state = _begun(strip)
    for _ in range(FIRST_STAGES, STAGES):
        state = _stage(strip, state)
    return _weighed(strip, state)


def _weighed(strip: Strip, state: _State) -> RimFit:
    """Return the likeliest of a fit and of those begun to either side of it, with their spread."""
    first = _told(strip, state)
    if first.explained < HOPELESS or float(first.ink.mean()) > PALE:
        return first
    states = [state, *(_again(strip, state, way) for way in AGAIN)]
    fits = [first, *(_told(strip, each) for each in states[1:])]
    unlikely = np.array([np.log1p((_left(strip, s) / USUAL_REST) ** 2).sum() for s in states])
    share = np.exp((unlikely.min() - unlikely) / LIKELIER)
    share = share / share.sum()
    best = fits[int(unlikely.argmin())]
    apart = np.array([fit.centre - best.centre for fit in fits])
    spread = float(share @ (apart**2).sum(axis=1)) / 2
    return replace(best, u_px=float(np.sqrt(best.u_px**2 + spread)))


def _again(strip: Strip, state: _State, way: float) -> _State:
    p = state.p.copy()
    p[4] += way * np.exp(p[5])
    p = np.clip(p, LOW, HIGH)
    factors, *_ = _mixed(strip, p, state.weight, AGAIN_NOISE)
    left = _left(strip, replace(state, p=p, factors=factors))
    weight = np.exp(-0.5 * (left / (STRANGE * AGAIN_NOISE)) ** 2)
    state = _settled(strip, p, weight, AGAIN_NOISE)
    for _ in range(AGAIN_STAGES):
        state = _stage(strip, state)
    return state


def _strip(light: Light, place: Place, mm_per_px: float) -> Strip | None:
    height, width = light.shape[:2]
    room = np.hypot(ALONG_MM, ACROSS_MM) / mm_per_px
    low = np.maximum(np.floor(place.centre - room), 0).astype(int)
    high = np.minimum(np.ceil(place.centre + room) + 1, [width, height]).astype(int)
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    dx, dy = (x - place.centre[0]) * mm_per_px, (y - place.centre[1]) * mm_per_px
    out = np.array([np.cos(place.turn_rad), np.sin(place.turn_rad)])
    along, outward = -dx * out[1] + dy * out[0], dx * out[0] + dy * out[1]
    near = (np.abs(along) < ALONG_MM) & (np.abs(outward) < ACROSS_MM)
    if near.sum() > MOST_PLACES:
        near &= (x + y) % 2 == 0
    values = np.exp(light[low[1] : high[1], low[0] : high[0]][near].astype(np.float64)) - FLOOR
    if len(values) < 40:
        return None
    return Strip(along[near], outward[near], values, mm_per_px, place.centre, out)


def _sided(strip: Strip) -> tuple[Strip, _State]:
    """Return the strip with the skin on the side on which it leaves less, and its state."""
    best: tuple[float, Strip, _State] | None = None
    other = replace(strip, along=-strip.along, outward=-strip.outward, out=-strip.out)
    for one in (strip, other):
        state = _begun(one)
        left = np.minimum(_left(one, state), 0.2) * one.skin.mean()
        if best is None or left.mean() < best[0]:
            best = float(left.mean()), one, state
    assert best is not None
    return best[1:]


def _begun(strip: Strip) -> _State:
    """Return the first stages: least absolute rest, then least squares."""
    weight = np.ones(len(strip.along))
    for _ in range(3):
        factors, *_ = _mixed(strip, LIKELY, weight, 0.1)
        left = np.sqrt(((strip.shown - strip.basis(LIKELY) @ factors) ** 2).mean(axis=1))
        weight = 0.05 / np.maximum(left, 0.05)
    state = _settled(strip, LIKELY, weight, FIRST_NOISE)
    for _ in range(1, FIRST_STAGES):
        state = _stage(strip, state)
    return state


def _left(strip: Strip, state: _State) -> Array:
    """Return what is left at each place, root mean square of the colours, (P,)."""
    rest = strip.shown - strip.basis(state.p) @ state.factors
    return np.asarray(np.sqrt((rest**2).mean(axis=1)))


def _stage(strip: Strip, state: _State) -> _State:
    left = _left(strip, state)
    usual = 1.2 * float(np.median(left))
    noise = min(state.noise, max(LEAST_NOISE, usual, CALMING * state.noise))
    return _settled(strip, state.p, np.exp(-0.5 * (left / (STRANGE * noise)) ** 2), noise)


def _mixed(
    strip: Strip, p: Array, weight: Array, noise: float, *, dot: bool = True
) -> tuple[Array, Array, Array]:
    """Return the best factors, (6, 3), what is left, weighted, and the basis' own space."""
    root = np.sqrt(weight)[:, None]
    basis = np.vstack([strip.basis(p, dot=dot) * root, noise * ROWS + 1e-6 * np.eye(6)])
    light = np.vstack([strip.shown * root, np.zeros((6, 3))])
    light[len(root)] = LIKELY_INK * noise / INK_SD
    space, upper = np.linalg.qr(basis)
    factors = np.linalg.solve(upper, space.T @ light)
    return factors, light - basis @ factors, space


def _settled(strip: Strip, p: Array, weight: Array, noise: float) -> _State:
    """Return the parameters of least squares from ``p`` on (Levenberg and Marquardt's way)."""
    factors, rest, space = _mixed(strip, p, weight, noise)
    surprise, damp = _surprise(p, rest, noise), 1e-3
    for turn in range(STEPS + 1):
        flat = _slopes(strip, p, factors, weight, space)
        curvature = flat @ flat.T / noise**2 + np.diag(SPREAD**-2)
        way = flat @ rest.ravel() / noise**2 - (p - LIKELY) / SPREAD**2
        if turn == STEPS:
            break
        for _ in range(4):
            move = np.linalg.solve(curvature + damp * np.diag(np.diag(curvature)), way)
            tried = np.clip(p + np.clip(move, -0.3, 0.3), LOW, HIGH)
            found = _mixed(strip, tried, weight, noise)
            now = _surprise(tried, found[1], noise)
            if now < surprise:
                break
            damp *= 8.0
        else:
            break
        gain, surprise, damp = surprise - now, now, max(damp / 5.0, 1e-5)
        p, (factors, rest, space) = tried, found
        if gain < 0.3:
            break
    return _State(p, weight, noise, factors, curvature)


def _surprise(p: Array, rest: Array, noise: float) -> float:
    return float((rest**2).sum()) / noise**2 + float((((p - LIKELY) / SPREAD) ** 2).sum())


def _slopes(strip: Strip, p: Array, factors: Array, weight: Array, space: Array) -> Array:
    """Return what each parameter changes of the light beyond the basis, (8, 3 (P + 6))."""
    step = 1e-3
    here, moved = strip.parts(p), strip.parts(p + step * np.eye(COUNT))
    ink, skin, beyond = ((m - h) / step for m, h in zip(moved, here, strict=True))
    change = ink[..., None] * factors[0] + skin[..., None] * factors[1]
    change = change + beyond[..., None] * factors[4]
    change = change + (skin * strip.outward)[..., None] * factors[3]
    rows = np.zeros((COUNT, len(space), 3))
    rows[:, : len(weight)] = change * np.sqrt(weight)[:, None]
    return np.asarray(rows - space @ (space.T @ rows)).reshape(COUNT, -1)


def _told(strip: Strip, state: _State) -> RimFit:
    p, weight = state.p, state.weight
    ink, _, beyond = strip.parts(p)
    bare, *_ = _mixed(strip, p, weight, state.noise, dot=False)
    rest = strip.shown - strip.basis(p) @ state.factors
    rest_bare = strip.shown - strip.basis(p, dot=False) @ bare
    inked, own = ink > 0.3 * ink.max(initial=1e-9), beyond < 0.3
    count = max(float(weight[own].sum()), 1e-9)
    noise = max(LEAST_NOISE, float(np.sqrt((weight[own, None] * rest[own] ** 2).sum() / 3 / count)))
    squares = float((weight[inked, None] * rest[inked] ** 2).sum())
    squares_bare = max(float((rest_bare[inked] ** 2).sum()), 1e-9)
    smooth = np.sqrt((rest[own & ~inked] ** 2).mean(axis=1)) < CALM
    at = centre_of(p)
    way = np.stack([(centre_of(p + 1e-4 * row) - at) / 1e-4 for row in np.eye(COUNT)], axis=1)
    spread = way @ np.linalg.inv(state.curvature) @ way.T * (noise / state.noise) ** 2
    on = np.array([-strip.out[1], strip.out[0]])
    skin = np.maximum(state.factors[1] + state.factors[3] * at[1], 0.05)
    return RimFit(
        strip.centre + (at[0] * on + at[1] * strip.out) / strip.mm_per_px,
        float(np.exp(p[5])),
        float(p[6]),
        depth_mm(p),
        float(np.exp(p[3])),
        state.factors[0] / skin,
        state.factors[4] / skin,
        noise,
        (squares_bare - squares) / noise**2,
        1.0 - squares / squares_bare,
        float(weight[inked].mean()),
        float(smooth.mean()) if len(smooth) else 0.0,
        float(np.sqrt(np.trace(spread) / 2)) / strip.mm_per_px,
    )
