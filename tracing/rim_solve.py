"""The parameters of a sliver along a rim's edge, by least squares.

What lies beyond the edge may be as uneven as hair.  How it scatters about its mean, along each of
its own three axes of colour, is then a part of the noise where it shows: such places still tell
what differs from it in colour, and the sliver's border on the skin counts in full.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array
from tracing.rim_model import COUNT, HIGH, LIKELY, LOW, SPREAD, Strip

STEPS = 4
LIKELY_INK, INK_SD, SLOPE_SD = 0.3, 0.15, (0.3, 0.5)
"""What share of the skin's light is left under ink; slopes of skin and of what lies beyond."""
ROWS = np.diag([1 / INK_SD, 0.0, 1 / SLOPE_SD[0], 1 / SLOPE_SD[0], 0.0, 1 / SLOPE_SD[1]])
BEYOND, LEAST_PLACES, ALIKE = 0.85, 15, 2.0
"""Of a place so much lies beyond the edge to tell how uneven that is, and so many are needed;
neighbours are alike, so that each tells as much less."""


@dataclass(frozen=True, slots=True, eq=False)
class Texture:
    """How what lies beyond the edge scatters: axes of colour, (3, 3) columns, and variances."""

    axes: Array
    variances: Array


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Parameters (8,), what each place counts (P,), noise, factors (6, 3), half a curvature.

    The factors are along the axes of the texture.
    """

    p: Array
    weight: Array
    noise: float
    factors: Array
    curvature: Array
    texture: Texture

    @property
    def colours(self) -> Array:
        """Return the factors of red, green and blue, (6, 3)."""
        return np.asarray(self.factors @ self.texture.axes.T)


def texture_of(rest: Array) -> Texture:
    """Return the texture of what is left beyond the edge, (K, 3)."""
    if len(rest) < LEAST_PLACES:
        return Texture(np.eye(3), np.zeros(3))
    variances, axes = np.linalg.eigh(rest.T @ rest / len(rest))
    return Texture(axes, ALIKE * np.maximum(variances, 0.0))


def texture_beyond(strip: Strip, state: State) -> Texture:
    """Return the texture of what lies beyond the edge as it is known by now."""
    at = strip.parts(state.p)[2] > BEYOND
    return texture_of((strip.shown - strip.basis(state.p) @ state.colours)[at])


def shares(strip: Strip, p: Array, noise: float, texture: Texture) -> Array:
    """Return which share of the variance at each place and axis is noise, (P, 3)."""
    beyond = strip.parts(p)[2]
    return np.asarray(noise**2 / (noise**2 + beyond[:, None] ** 2 * texture.variances))


def left_over(strip: Strip, state: State, factors: Array | None = None) -> Array:
    """Return what is left, as much of it as is not texture, (P, 3).

    ``factors`` are those without a dot, if given.
    """
    used = state.factors if factors is None else factors
    basis = strip.basis(state.p, dot=factors is None)
    rest = strip.shown @ state.texture.axes - basis @ used
    return np.asarray(rest * np.sqrt(shares(strip, state.p, state.noise, state.texture)))


def mixed(
    strip: Strip, p: Array, weight: Array, noise: float, axes: Array, *, dot: bool = True
) -> tuple[Array, Array, Array]:
    """Return the best factors, (6, 3), what is left, weighted, (3, P + 6), and the basis' spaces.

    ``weight`` is of each place and axis of colour, (P, 3).
    """
    root = np.sqrt(weight).T
    rows = np.broadcast_to(noise * ROWS + 1e-6 * np.eye(6), (3, 6, 6))
    basis = np.concatenate([strip.basis(p, dot=dot) * root[:, :, None], rows], axis=1)
    light = np.zeros((3, basis.shape[1]))
    light[:, : root.shape[1]] = (strip.shown @ axes).T * root
    light[:, root.shape[1]] = LIKELY_INK * noise / INK_SD * axes.sum(axis=0)
    spaces, upper = np.linalg.qr(basis)
    factors = np.linalg.solve(upper, np.einsum("cpk,cp->ck", spaces, light)[..., None])
    return factors[..., 0].T, light - (basis @ factors)[..., 0], spaces


def settled(strip: Strip, p: Array, weight: Array, noise: float, texture: Texture) -> State:
    """Return the parameters of least squares from ``p`` on (Levenberg and Marquardt's way)."""
    each = weight[:, None] * shares(strip, p, noise, texture)
    factors, rest, spaces = mixed(strip, p, each, noise, texture.axes)
    surprise, damp = _surprise(p, rest, noise), 1e-3
    for turn in range(STEPS + 1):
        flat = _slopes(strip, p, factors, each, spaces)
        curvature = flat @ flat.T / noise**2 + np.diag(SPREAD**-2)
        way = flat @ rest.ravel() / noise**2 - (p - LIKELY) / SPREAD**2
        if turn == STEPS:
            break
        for _ in range(4):
            move = np.linalg.solve(curvature + damp * np.diag(np.diag(curvature)), way)
            tried = np.clip(p + np.clip(move, -0.3, 0.3), LOW, HIGH)
            found = mixed(strip, tried, each, noise, texture.axes)
            now = _surprise(tried, found[1], noise)
            if now < surprise:
                break
            damp *= 8.0
        else:
            break
        gain, surprise, damp = surprise - now, now, max(damp / 5.0, 1e-5)
        p, (factors, rest, spaces) = tried, found
        if gain < 0.3:
            break
    return State(p, weight, noise, factors, curvature, texture)


def _surprise(p: Array, rest: Array, noise: float) -> float:
    return float((rest**2).sum()) / noise**2 + float((((p - LIKELY) / SPREAD) ** 2).sum())


def _slopes(strip: Strip, p: Array, factors: Array, weight: Array, spaces: Array) -> Array:
    """Return what each parameter changes of the light beyond the basis, (8, 3 (P + 6))."""
    step = 1e-3
    here, moved = strip.parts(p), strip.parts(p + step * np.eye(COUNT))
    ink, skin, beyond = ((m - h) / step for m, h in zip(moved, here, strict=True))
    ground = factors[1] + strip.along[:, None] * factors[2] + strip.outward[:, None] * factors[3]
    change = ink[..., None] * factors[0] + skin[..., None] * ground
    change = change + beyond[..., None] * (factors[4] + strip.along[:, None] * factors[5])
    rows = np.zeros((COUNT, 3, spaces.shape[1]))
    rows[..., : len(weight)] = (change * np.sqrt(weight)).transpose(0, 2, 1)
    inside = np.einsum("cpk,jcp->jck", spaces, rows)
    return np.asarray(rows - np.einsum("cpk,jck->jcp", spaces, inside)).reshape(COUNT, -1)
