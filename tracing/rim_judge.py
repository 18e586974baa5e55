"""What tells a dark sliver along a rim's edge from a pen dot."""

from __future__ import annotations

import numpy as np

from tracing.rim_fit import RimFit

LEAST_EXPLAINED, MOST_NOISE, LEAST_GAIN = 0.93, 0.065, 200.0
LEAST_WITHIN, LEAST_CALM = (0.8, 0.7), 0.7
RADIUS_MM, MOST_BEFORE_MM, MOST_DEPTH_MM = (0.24, 0.82), (1.05, 1.4, 1.52), (0.5, 0.6, 0.85)
"""The second where the sliver explains nearly all, the third where it is also alone."""
MOST_BLUR_PX = 1.75
MOST_PALE, ALIKE = 0.6, 0.15
"""Ink leaves less than this of the skin's light; what lies beyond differs from it by more."""

NEARLY_ALL = 0.98
"""A sliver that explains so much and is alone may have more ink that looks otherwise."""
CLEAR, CLEARLY_EXPLAINED, SHARP_PX = 1.1, 0.95, 1.3
"""Light that a sliver takes, times its width over its blur: what is paler may be a wiped dot's
or a freckle's, which have soft borders, unless the sliver is sharp and explains nearly all."""
FALLS = 10.0
"""How much less clear a sliver may be that explains more than that."""
BROWNER = 0.15
GRAY, GRAY_GAIN = 0.08, 750.0
"""What takes about as much of each colour may be a gap between hairs: it must be clearer."""


def rim_fault(fit: RimFit, mm_per_px: float, *, alone: bool) -> str | None:
    """Return what tells a sliver from a pen dot, or None; ``alone``: nothing near may be one."""
    clear = (1.0 - float(fit.ink.mean())) * fit.depth_mm / (mm_per_px * fit.blur_px)
    least = CLEAR - FALLS * max(fit.explained - CLEARLY_EXPLAINED, 0.0)
    nearly_all = int(fit.explained > CLEARLY_EXPLAINED)
    least_within = LEAST_WITHIN[alone and fit.explained > NEARLY_ALL]
    rank = nearly_all * (1 + alone)
    faults = {
        "faint": fit.explained < LEAST_EXPLAINED
        or fit.gain < LEAST_GAIN
        or fit.noise > MOST_NOISE
        or fit.calm < LEAST_CALM
        or float(fit.ink.mean()) > MOST_PALE
        or (clear < least and (not nearly_all or fit.blur_px > SHARP_PX)),
        "long": not RADIUS_MM[0] <= fit.radius_mm <= RADIUS_MM[1]
        or fit.before_mm > MOST_BEFORE_MM[rank]
        or fit.depth_mm > MOST_DEPTH_MM[rank],
        "brown": fit.ink[0] - fit.ink[1] > BROWNER and fit.ink[1] - fit.ink[2] > BROWNER,
        "hair": float(np.ptp(fit.ink)) < GRAY and fit.gain < GRAY_GAIN,
        "soft": fit.blur_px > MOST_BLUR_PX,
        "two": fit.within < least_within or float(np.abs(fit.beyond - fit.ink).max()) < ALIKE,
    }
    return next((name for name, holds in faults.items() if holds), None)
