"""A pen dot half round a rim's edge, fitted as a dark sliver between skin and what lies beyond."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from calibration.frames import Array
from tracing.light import FLOOR, Light
from tracing.rim_model import COUNT, HIGH, LIKELY, LOW, ROUND_MM, Strip, centre_of, depth_mm
from tracing.rim_places import Place
from tracing.rim_solve import (
    State,
    left_over,
    mixed,
    settled,
    shares,
    texture_beyond,
    texture_of,
)

ALONG_MM, ACROSS_MM = 1.4, 0.75
FIRST_NOISE, LEAST_NOISE, STRANGE, CALMING = 0.25, 0.015, 3.0, 0.5
"""Of light over the skin's; places that differ by this many times the noise count little, and the
noise falls by no more than so much from stage to stage."""
FIRST_STAGES, STAGES = 2, 6
OWN, LEAST_OWN = 0.5, 10
"""Skin and ink are places of which less lies beyond the edge; so many tell the noise."""
MOST_NOISIER, UNEVEN = 2.5, 0.08
"""The side is not the skin's that is so much noisier at first, nor if noisier than this in the
end."""
CLEARLY_BEYOND_MM = 0.3
"""What lies so far outward is taken to lie beyond the edge at first."""
MOST_TURN = 0.25
HOPELESS, PALE = 0.8, 0.75
CALM, GRAY = 0.08, 0.08
"""Rest of skin that is smooth; by how much the light differs that gray ink leaves of colours."""
MOST_PLACES = 450
AGAIN, AGAIN_NOISE, AGAIN_STAGES = (-0.35, 0.35), 0.08, 2
"""A fit is done again from so many radii along the edge, with more noise at first."""
USUAL_REST, LIKELIER = 0.03, 4.0
"""Rest of light beyond which places count little, and how much less unlikely by that measure a fit
must be to count e times as much as another."""


@dataclass(frozen=True, slots=True, eq=False)
class RimFit:
    """A sliver in the picture.

    ``centre`` is where the dot's own centre is seen, (2,) px; ``ink`` and ``beyond`` are light
    over the skin's, (3,); ``within`` is the share of the ink that looks as it should, ``calm``
    the share of the skin that looks smooth; ``explained`` is the share of the squares in the ink
    that it explains, ``gain`` how many times the noise's square that is; ``noise`` the skin's
    and the ink's rest; ``u_px`` the standard uncertainty of the centre, each axis, from the rest;
    ``out``, (2,), points to what lies beyond; ``edge``, (3,), is how far outward of the centre the
    edge runs, mm, its slope and half its bend along.
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
    out: Array
    edge: Array

    @property
    def is_gray(self) -> bool:
        """Return whether the ink takes about as much of each colour."""
        return float(np.ptp(self.ink)) < GRAY


def fit_rim(light: Light, place: Place, mm_per_px: float) -> RimFit | None:
    """Return the sliver that fits best near a place, or None where that can't be told.

    Parameters
    ----------
    light : (H, W, 3) array
    place : where, and how the edge runs there
    mm_per_px : float
    """
    sides = (place, Place(place.centre, place.turn_rad + np.pi))
    begun = [one for one in (_begun(light, side, mm_per_px) for side in sides) if one]
    if not begun:
        return None
    most = MOST_NOISIER * max(LEAST_NOISE, min(state.noise for _, state in begun))
    fits = [_gone_on(strip, state) for strip, state in begun if state.noise <= most]
    told = [(_told(strip, state), strip, state) for strip, state in fits]
    _, strip, state = max(told, key=lambda one: one[0].explained - (one[0].noise > UNEVEN))
    return _weighed(strip, state)


def _gone_on(strip: Strip, state: State) -> tuple[Strip, State]:
    for _ in range(FIRST_STAGES, STAGES):
        state = _stage(strip, state)
    return strip, state


def _weighed(strip: Strip, state: State) -> RimFit:
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


def _again(strip: Strip, state: State, way: float) -> State:
    p = state.p.copy()
    p[4] += way * np.exp(p[5])
    p = np.clip(p, LOW, HIGH)
    each = state.weight[:, None] * shares(strip, p, AGAIN_NOISE, state.texture)
    factors, *_ = mixed(strip, p, each, AGAIN_NOISE, state.texture.axes)
    left = _left(strip, replace(state, p=p, noise=AGAIN_NOISE, factors=factors))
    weight = np.exp(-0.5 * (left / (STRANGE * AGAIN_NOISE)) ** 2)
    state = settled(strip, p, weight, AGAIN_NOISE, state.texture)
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


def _begun(light: Light, place: Place, mm_per_px: float) -> tuple[Strip, State] | None:
    """Return the strip along the edge and the first stages, or None at the picture's border."""
    strip = _strip(light, place, mm_per_px)
    if strip is None:
        return None
    state = _first(strip)
    more = float(np.arctan(state.p[1]))
    if abs(more) < MOST_TURN:
        return strip, state
    turned = _strip(light, Place(place.centre, place.turn_rad - more), mm_per_px)
    return (turned, _first(turned)) if turned else None


def _first(strip: Strip) -> State:
    far = strip.shown[strip.outward > CLEARLY_BEYOND_MM]
    texture = texture_of(far - far.mean(axis=0) if len(far) else far)
    state = settled(strip, LIKELY, np.ones(len(strip.along)), FIRST_NOISE, texture)
    for _ in range(1, FIRST_STAGES):
        state = _stage(strip, state)
    return state


def _left(strip: Strip, state: State) -> Array:
    """Return what is left at each place, root mean square of the colours, (P,)."""
    return np.asarray(np.sqrt((left_over(strip, state) ** 2).mean(axis=1)))


def _stage(strip: Strip, state: State) -> State:
    left = _left(strip, state)
    own = strip.parts(state.p)[2] < OWN
    usual = 1.2 * float(np.median(left[own])) if own.sum() > LEAST_OWN else state.noise
    noise = min(state.noise, max(LEAST_NOISE, usual, CALMING * state.noise))
    weight = np.exp(-0.5 * (left / (STRANGE * noise)) ** 2)
    return settled(strip, state.p, weight, noise, texture_beyond(strip, state))


def _told(strip: Strip, state: State) -> RimFit:
    p, weight = state.p, state.weight
    ink, _, beyond = strip.parts(p)
    each = weight[:, None] * shares(strip, p, state.noise, state.texture)
    bare, *_ = mixed(strip, p, each, state.noise, state.texture.axes, dot=False)
    rest, rest_bare = left_over(strip, state), left_over(strip, state, bare)
    factors = state.colours
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
    skin = np.maximum(factors[1] + factors[3] * at[1], 0.05)
    return RimFit(
        strip.centre + (at[0] * on + at[1] * strip.out) / strip.mm_per_px,
        float(np.exp(p[5])),
        float(p[6]),
        depth_mm(p),
        float(np.exp(p[3])),
        factors[0] / skin,
        factors[4] / skin,
        noise,
        (squares_bare - squares) / noise**2,
        1.0 - squares / squares_bare,
        float(weight[inked].mean()),
        float(smooth.mean()) if len(smooth) else 0.0,
        float(np.sqrt(np.trace(spread) / 2)) / strip.mm_per_px,
        strip.out,
        np.array([p[6] ** 2 / (2 * ROUND_MM), p[1] - p[2] * p[4], -0.5 * p[2]]),
    )
