"""A picture's light about a spot with the skin's own curved shading taken off.

Under a fold the light falls off within a few millimetres, far from evenly.  A spot fitted on
ground that slopes evenly then leaves so much of it that a clear dot looks like none.
"""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from tracing.light import Light

DEGREE = 3
"""Of the polynomial of log light in x and y that stands for the shading."""
ROOM, ROOM_PX = 1.7, 3.5
"""How far about the spot it is learned, in the longer half axis and px more."""
BORDER, BORDER_PX = 1.5, 1.0
"""How much beside the spot isn't learned from, in its border's blur and px more."""
TURNS, LEAST_REST, LEAST_PLACES = 5, 0.015, 30
STIFF = 2e-5
"""What a curve costs, a place, so that skin seen on one side alone tells no curve on the other."""


def room_px(half_axis_px: float) -> float:
    """Return how far about a spot the skin is flattened."""
    return ROOM * half_axis_px + ROOM_PX


def flattened(
    light: Light, centre: Array, half_axes: tuple[float, float], turn_rad: float, blur_px: float
) -> Light | None:
    """Return the light with what curves in it about a spot taken off; even slopes stay.

    It is learned on the skin beside the spot, where what differs most counts least.

    Parameters
    ----------
    light : (H, W, 3) array
    centre : (2,) array, px
    half_axes, turn_rad, blur_px : of the spot, about

    Returns
    -------
    The light, or None where too little skin is seen beside the spot.
    """
    height, width = light.shape[:2]
    room = room_px(half_axes[0])
    low = np.clip(np.floor(centre - room), 0, [width, height]).astype(int)
    high = np.clip(np.ceil(centre + room) + 1, low, [width, height]).astype(int)
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    dx, dy = x - centre[0], y - centre[1]
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    aside = BORDER * blur_px + BORDER_PX
    out = np.hypot(
        (c * dx + s * dy) / (half_axes[0] + aside), (c * dy - s * dx) / (half_axes[1] + aside)
    )
    near = np.hypot(dx, dy) <= room
    skin = near & (out > 1.0)
    if skin.sum() < LEAST_PLACES:
        return None
    powers = [(i, j) for i in range(DEGREE + 1) for j in range(DEGREE + 1 - i)]
    terms = np.stack([(dx / room) ** i * (dy / room) ** j for i, j in powers], axis=-1)
    curves = np.array([i + j > 1 for i, j in powers])
    seen = light[low[1] : high[1], low[0] : high[0]].astype(np.float64)
    counts = np.exp(-0.5 * (out[skin] - 1.0) ** 2)
    factors = _learned(terms[skin], seen[skin], counts, STIFF * skin.sum() * np.diag(curves))
    flat = light.copy()
    flat[low[1] : high[1], low[0] : high[0]] -= (terms[..., curves] @ factors[curves]) * near[
        ..., None
    ]
    return flat


def _learned(terms: Array, light: Array, counts: Array, stiff: Array) -> Array:
    """Return the factors of the terms, (K, 3), by least squares; strange places count less."""
    weight = counts
    for _ in range(TURNS):
        pull = terms.T * weight
        factors = np.linalg.solve(pull @ terms + stiff + 1e-9 * np.eye(len(stiff)), pull @ light)
        rest = np.sqrt(((light - terms @ factors) ** 2).mean(axis=1))
        weight = counts / (1.0 + (rest / max(1.5 * float(np.median(rest)), LEAST_REST)) ** 2)
    return np.asarray(factors)
