"""What tells a dark sliver along a rim's edge from a pen dot."""

from __future__ import annotations

import numpy as np

from tracing.rim_fit import RimFit

LEAST_EXPLAINED, MOST_NOISE, LEAST_GAIN, LEAST_PX = (0.93, 0.9), 0.05, 300.0, 0.55
LEAST_WITHIN, LEAST_CALM = (0.8, 0.7), 0.8
SHARP_GAIN, SHARP_CALM, SHARP_CLEAR = 1000.0, 0.9, 0.5
"""A sharp sliver that is so clear, on skin so smooth, may explain less: skin is never even."""
SURE_GAIN, SURE_EXPLAINED = 10000.0, 0.975
"""A sliver that is so clear may hold a little that looks like something else."""
RADIUS_MM, MOST_BEFORE_MM, MOST_DEPTH_MM = (0.24, 0.82), (1.05, 1.5), (0.5, 0.75)
"""The second where the sliver explains nearly all."""
SURE_ON_INK, MOST_NEAR_MM, NO_EDGE = 0.985, 1.5, (0.3, 1.1)
"""Where there is other ink: least share explained, and how far over the skin the sliver's near end
may lie, if what lies beyond has about so much of the skin's light, as a stroke's border has."""
PALER, PALER_SPREAD = (0.3, 0.9), 0.1
"""What lies beyond takes this share of what the ink takes, of each colour alike: a stroke's ink."""
LEAST_INK = -0.25
"""Ink can't leave less than no light; much less shows that it is no such sliver."""
MOST_BLUR_PX = 1.75
MOST_PALE, ALIKE = 0.6, 0.15
"""Ink leaves less than this of the skin's light; what lies beyond differs from it by more."""


CLEAR, CLEARLY_EXPLAINED, SHARP_PX = 1.1, 0.95, 1.3
"""Light that a sliver takes, times its width over its blur: what is paler may be a wiped dot's
or a freckle's, which have soft borders, unless the sliver is sharp and explains nearly all."""
FALLS = 10.0
"""How much less clear a sliver may be that explains more than that."""
BROWNER = 0.15


def rim_fault(fit: RimFit, mm_per_px: float) -> str | None:
    """Return what tells a sliver from a pen dot, or None."""
    clear = (1.0 - float(fit.ink.mean())) * fit.depth_mm / (mm_per_px * fit.blur_px)
    least = CLEAR - FALLS * max(fit.explained - CLEARLY_EXPLAINED, 0.0)
    nearly_all = int(fit.explained > CLEARLY_EXPLAINED)
    sharp = fit.blur_px < SHARP_PX and fit.gain > SHARP_GAIN and fit.calm > SHARP_CALM
    least = SHARP_CLEAR if sharp else least
    sure = int(fit.explained > SURE_EXPLAINED and fit.gain > SURE_GAIN)
    faults = {
        "faint": fit.explained < LEAST_EXPLAINED[sharp]
        or fit.gain < LEAST_GAIN
        or fit.noise > MOST_NOISE
        or fit.depth_mm < LEAST_PX * mm_per_px
        or fit.calm < LEAST_CALM
        or float(fit.ink.mean()) > MOST_PALE
        or (clear < least and (not nearly_all or fit.blur_px > SHARP_PX)),
        "long": _is_paler_ink(fit)
        or not RADIUS_MM[0] <= fit.radius_mm <= RADIUS_MM[1]
        or fit.before_mm > MOST_BEFORE_MM[nearly_all]
        or fit.depth_mm > MOST_DEPTH_MM[nearly_all],
        "brown": fit.ink[0] - fit.ink[1] > BROWNER and fit.ink[1] - fit.ink[2] > BROWNER,
        "soft": fit.blur_px > MOST_BLUR_PX,
        "two": float(fit.ink.min()) < LEAST_INK
        or fit.within < LEAST_WITHIN[sure]
        or float(np.abs(fit.beyond - fit.ink).max()) < ALIKE,
    }
    return next((name for name, holds in faults.items() if holds), None)


def _is_paler_ink(fit: RimFit) -> bool:
    """Return whether beyond a coloured sliver lies the same ink, only paler, as along a smear."""
    if float(np.ptp(fit.ink)) < ALIKE:
        return False
    share = (1.0 - fit.beyond) / np.maximum(1.0 - fit.ink, 0.05)
    return bool(PALER[0] < share.mean() < PALER[1] and np.ptp(share) < PALER_SPREAD)


def may_be_stroke(fit: RimFit) -> bool:
    """Return whether a sliver that lies on other ink may be part of it: no edge is beyond it."""
    edge = fit.beyond.min() < NO_EDGE[0] or fit.beyond.max() > NO_EDGE[1]
    unclear = fit.explained < SURE_ON_INK or fit.radius_mm + fit.before_mm > MOST_NEAR_MM
    return bool(unclear and not edge)
