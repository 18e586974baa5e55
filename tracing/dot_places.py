"""Where a pen dot may lie near a tap: dark hills of a dot's size, the nearest first."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import gaussian_filter, maximum_filter

from calibration.frames import Array
from tracing.light import Light
from tracing.spot_judge import INK

REACH_MM = 2.0
"""How far from the tap a dot is looked for: taps of sd 0.5 mm on each axis never lie farther."""
SCALES_MM = (0.2, 0.28, 0.38, 0.52)
"""Of the filters: a dot of diameter d answers most at d / (2 sqrt 2)."""
LEAST_BLOB = 0.05
MOST_TRIED = 6
TAP_MM = 1.2
"""Places further from the tap than this are tried later."""


def candidates(light: Light, near: Array, mm_per_px: float) -> list[tuple[Array, float, float]]:
    """Return places that look like small dark spots, the nearest first, with scale and strength."""
    dark = -(light @ INK)
    best = np.zeros(dark.shape, dtype=np.float32)
    at_scale = np.zeros(dark.shape, dtype=np.float32)
    for scale_mm in SCALES_MM:
        sigma = max(scale_mm / mm_per_px, 0.9)
        bend = _bend(dark, sigma)
        better = bend > best
        best[better], at_scale[better] = bend[better], sigma
    peaks = (best == maximum_filter(best, size=3)) & (best > LEAST_BLOB)
    y, x = np.nonzero(peaks)
    away = np.hypot(x - near[0], y - near[1]) * mm_per_px
    likely = np.minimum(best[y, x], 0.5) * np.exp(-0.5 * (away / TAP_MM) ** 2)
    order = [i for i in np.argsort(-likely) if away[i] <= REACH_MM + 0.3][:MOST_TRIED]
    order.sort(key=lambda i: away[i])
    return [
        (
            np.array([x[i], y[i]], dtype=np.float64),
            float(at_scale[y[i], x[i]]),
            float(best[y[i], x[i]]),
        )
        for i in order
    ]


def _bend(dark: Light, sigma: float) -> Light:
    """Return the smaller of a hill's two bends, times sigma squared; 0 where it is no hill."""
    xx = gaussian_filter(dark, sigma, order=(0, 2))
    yy = gaussian_filter(dark, sigma, order=(2, 0))
    xy = gaussian_filter(dark, sigma, order=(1, 1))
    mean, gap = (xx + yy) / 2, np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    return np.asarray(np.maximum(-(mean + gap), 0.0) * sigma**2)


def rivals(found: list[tuple[Array, float, float]], i: int) -> Array:
    """Return the places as spot-like as candidate ``i`` that lie outside it, (K, 2) px."""
    centre, scale_px, strength = found[i]
    apart = [
        other
        for other, _, rival in found
        if rival > 0.5 * strength and np.hypot(*(other - centre)) > 2.0 * scale_px
    ]
    return np.array(apart, dtype=np.float64).reshape(-1, 2)
