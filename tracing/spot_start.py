"""How a spot's fit begins: its rough shape, and the edge beyond which lies something else.

Near a rim's edge cloth, hair or far skin fills much of a small dot's surroundings.  Straight cuts
in all directions and a few shapes are tried at once, each with what the light is a sum of; the
likeliest pair is where the fit begins.
"""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from tracing.spot_model import Window

DIRECTIONS = 16
CUTS = (1.0, 1.4, 1.9, 2.5)
"""Ways from the middle to the edge, in radii; a pixel more lets the camera's blur by."""
STRETCH = 0.7
"""Of the stretched shapes that are tried, their logarithm of long over short."""
SKIN_SD, BEYOND_SD = 0.03, 0.25
"""Least spread of log light round what is expected of skin and ink, and of what lies beyond."""
BENEFIT = 6.0
"""Log likelihood by which a cut must be better than none."""


def begun(window: Window, mean: Array) -> tuple[Window, Array]:
    """Return the part of a window on the spot's side of an edge, and where a fit begins, (7,).

    Parameters
    ----------
    window : all places near a candidate
    mean : (7,) array
        The likely parameters.
    """
    near = np.exp(-0.5 * (window.away / (1.4 * window.radius_px + 1.0)) ** 2)
    turns = np.linspace(0.0, 2 * np.pi, DIRECTIONS, endpoint=False)
    way = np.cos(turns)[:, None] * window.x + np.sin(turns)[:, None] * window.y
    cuts = np.array(CUTS) * window.radius_px + 1.0
    kept = np.vstack([np.ones_like(near)[None], *[way <= cut for cut in cuts]]).astype(np.float64)
    best: tuple[float, Array, Array] | None = None
    for p in _shapes(mean):
        told = _likelihood(window, window.cover(p), near, kept)
        told[0] += BENEFIT
        at = int(np.argmax(told))
        if best is None or told[at] > best[0]:
            best = float(told[at]), p, kept[at] > 0.5
    assert best is not None
    _, p, keep = best
    return Window(window.x[keep], window.y[keep], window.light[keep], window.radius_px), p


def _shapes(mean: Array) -> list[Array]:
    """Return the likely parameters, round and stretched four ways."""
    ways = np.array([[0, 0], [1, 0], [0, 1], [-1, 0], [0, -1]]) * STRETCH
    shapes = []
    for one, other in ways:
        p = mean.copy()
        p[3:5] += one, other
        shapes.append(p)
    return shapes


def _likelihood(window: Window, cover: Array, near: Array, kept: Array) -> Array:
    """Return the log likelihood of each choice of kept places, (K, P) -> (K,)."""
    basis, light = window.basis(cover), window.light
    count = kept @ near
    moments = (basis[:, :, None] * basis[:, None, :]).reshape(len(near), -1)
    products = (basis[:, :, None] * light[:, None, :]).reshape(len(near), -1)
    weighted = kept * near
    square = (weighted @ moments).reshape(-1, 6, 6) + 1e-3 * np.eye(6)
    product = (weighted @ products).reshape(-1, 6, 3)
    factors = np.linalg.solve(square, product)
    rest = weighted @ (light**2).sum(axis=1) - (factors * product).sum(axis=(1, 2))
    inside = np.maximum(rest, 0.0) / 3.0 / np.maximum(count, 1e-9) + SKIN_SD**2
    left = (1.0 - kept) * near
    dropped = left.sum(axis=1)
    middle = (left @ light) / np.maximum(dropped, 1e-9)[:, None]
    spread = left @ (light**2).sum(axis=1) - dropped * (middle**2).sum(axis=1)
    outside = np.maximum(np.maximum(spread, 0.0) / 3.0 / np.maximum(dropped, 1e-9), BEYOND_SD**2)
    return np.asarray(-1.5 * (count * np.log(inside) + dropped * np.log(outside)))
