"""What tells a dark sliver along a rim's edge from a pen dot."""

from __future__ import annotations

import numpy as np

from tracing.light import FLOOR, Light, light_at
from tracing.rim_fit import RimFit

LEAST_EXPLAINED, MOST_NOISE, LEAST_GAIN = 0.94, 0.065, 200.0
LEAST_WITHIN, LEAST_CALM = (0.8, 0.7), 0.7
RADIUS_MM, MOST_BEFORE_MM, MOST_DEPTH_MM = (0.24, 0.82), (1.05, 1.25, 1.45), (0.5, 0.6, 0.85)
"""The second where the sliver explains nearly all, the third where it is also alone; of the way
before the edge, where what lies beyond is brighter than the skin: no smear is."""
BLACKEST = -0.4
"""Ink leaves no less of the light than a fit of it is off by."""
MOST_BLUR_PX, BLURRED_PX, BLURRED = 1.75, 1.6, 0.985
"""A sliver as blurred as the second must explain so much."""
MOST_PALE, ALIKE = 0.6, 0.10
"""Ink leaves less than this of the skin's light; what lies beyond differs from it by more."""

NEARLY_ALL = 0.98
"""A sliver that explains so much and is alone may have more ink that looks otherwise."""
CLEAR, CLEARLY_EXPLAINED, SHARP_PX = 0.9, 0.95, 1.3
"""Light that a sliver takes, times its width over its blur: what is paler may be a wiped dot's
or a freckle's, which have soft borders, unless the sliver is sharp and explains nearly all."""
FALLS = 10.0
"""How much less clear a sliver may be that explains more than that."""
BROWNER, FAINT_GAIN = (0.15, 0.05), 700.0
"""How much more red is left than green, and green than blue, under what is brown; the second where
it is faint."""
GRAY, GRAY_GAIN = 0.08, 2000.0
"""What takes about as much of each colour may be a gap between hairs: it must be clearer."""
SAME_INK, LESS_INK, SKIN_AGAIN = 0.92, 0.9, 1.0
"""What lies beyond is more of the ink, smeared, if it takes the colours that ink takes (cosine of
the logarithms), less than so much of it, and skin is seen again past it: to within this, in the
logarithm of light."""
PAST_MM, PAST_ASIDE_MM = (0.5, 4.3, 0.1), (-0.2, 0.0, 0.2)
"""Where past a sliver skin is looked for again, outward and along."""


def rim_fault(light: Light, fit: RimFit, mm_per_px: float, *, alone: bool) -> str | None:
    """Return what tells a sliver from a pen dot, or None; ``alone``: nothing near may be one."""
    clear = (1.0 - float(fit.ink.mean())) * fit.depth_mm / (mm_per_px * fit.blur_px)
    least = CLEAR - FALLS * max(fit.explained - CLEARLY_EXPLAINED, 0.0)
    nearly_all = int(fit.explained > CLEARLY_EXPLAINED)
    least_within = LEAST_WITHIN[alone and fit.explained > NEARLY_ALL]
    rank = nearly_all * (1 + alone)
    most_before_mm = MOST_BEFORE_MM[nearly_all * (1 + (float(fit.beyond.mean()) > 1.0))]
    faults = {
        "faint": fit.explained < LEAST_EXPLAINED
        or fit.gain < LEAST_GAIN
        or fit.noise > MOST_NOISE
        or fit.calm < LEAST_CALM
        or float(fit.ink.mean()) > MOST_PALE
        or (clear < least and (not nearly_all or fit.blur_px > SHARP_PX)),
        "long": not RADIUS_MM[0] <= fit.radius_mm <= RADIUS_MM[1]
        or fit.before_mm > most_before_mm
        or fit.depth_mm > MOST_DEPTH_MM[rank]
        or _is_smeared(light, fit, mm_per_px),
        "brown": float(-np.diff(fit.ink).max()) > BROWNER[fit.gain < FAINT_GAIN],
        "hair": float(np.ptp(fit.ink)) < GRAY and fit.gain < GRAY_GAIN,
        "soft": fit.blur_px > MOST_BLUR_PX
        or (fit.blur_px > BLURRED_PX and fit.explained < BLURRED),
        "two": fit.within < least_within
        or float(fit.ink.min()) < BLACKEST
        or float(np.abs(fit.beyond - fit.ink).max()) < ALIKE,
    }
    return next((name for name, holds in faults.items() if holds), None)


def _is_smeared(light: Light, fit: RimFit, mm_per_px: float) -> bool:
    """Return whether what lies beyond a sliver is more of the same ink, and no edge is there."""
    beyond, ink = (np.log(np.maximum(each, 0.02)) for each in (fit.beyond, fit.ink))
    if float(fit.beyond.mean()) > 1.0:
        return False
    share = np.log(max(float(fit.beyond.mean()), 0.02)) / np.log(max(float(fit.ink.mean()), 0.02))
    alike = float(beyond @ ink) / float(np.linalg.norm(beyond) * np.linalg.norm(ink))
    more = alike > SAME_INK and share < LESS_INK
    return more and _least_unlike_skin(light, fit, mm_per_px) < SKIN_AGAIN


def _least_unlike_skin(light: Light, fit: RimFit, mm_per_px: float) -> float:
    """Return how much what is seen past a sliver differs from the skin before it, at least."""
    on = np.array([-fit.out[1], fit.out[0]])
    aside = np.array(PAST_ASIDE_MM)[:, None] * on
    ways_mm = np.arange(*PAST_MM)[:, None, None] * fit.out + aside
    places = fit.centre + ways_mm / mm_per_px
    seen = light_at(light, places.reshape(-1, 2)).reshape(*places.shape[:2], 3)
    unlike = np.abs(np.median(seen, axis=1) - np.log(fit.skin + FLOOR))
    return float(unlike.max(axis=1).min())
