"""What tells a dark sliver along a rim's edge from a pen dot."""

from __future__ import annotations

import numpy as np

from tracing.light import Light, alike
from tracing.rim_fit import RimFit
from tracing.rim_smear import is_smeared

LEAST_EXPLAINED, MOST_NOISE, LEAST_GAIN = 0.94, 0.065, 200.0
LEAST_WITHIN, LEAST_CALM = (0.8, 0.7), 0.7
RADIUS_MM, MOST_BEFORE_MM, MOST_DEPTH_MM = (0.24, 0.82), (1.05, 1.25, 1.65), (0.5, 0.6, 0.85)
"""The second where the sliver explains nearly all, the third where it is also alone; of the way
before the edge, where what lies beyond is also brighter than the skin: no smear is. The third of
both for an ink's hue at an edge where it is brighter beyond."""
SHADE_MM = 0.02, 0.7
"""A sliver as long as the second whose centre lies on the edge is the shade along a bare one."""
BLACKEST = -0.4
"""Ink leaves no less of the light than a fit of it is off by."""
MOST_BLUR_PX, BLURRED_PX, BLURRED = 1.75, 1.6, (0.985, 0.97)
"""A sliver as blurred as the second must explain so much; the second with an ink's hue."""
OTHER_COLOUR = 0.97
"""What lies beyond is no more of the ink if the colours that the two take are so little alike."""
AT_AN_EDGE = 0.2, 0.9, 250.0, 0.045, 0.93, 0.4
"""Of a sliver before an edge: hue, least explained, gain, most noise, least calm, and by how much
what lies beyond differs from skin."""
HUED = 0.25
"""By how much the light differs that ink of clear hue leaves of red, green and blue."""
MOST_PALE, ALIKE = 0.6, 0.10
"""Ink leaves less than this of the skin's light; what lies beyond differs from it by more."""

NEARLY_ALL = 0.98
"""A sliver that explains so much and is alone may have more ink that looks otherwise."""
CLEAR, CLEARLY_EXPLAINED, SHARP_PX = 0.84, 0.95, 1.3
"""Light that a sliver takes, times its width over its blur: what is paler may be a wiped dot's
or a freckle's, which have soft borders, unless the sliver is sharp and explains nearly all."""
FALLS = 10.0
"""How much less clear a sliver may be that explains more than that."""
BROWNER, FAINT_GAIN = (0.15, 0.05), 700.0
"""How much more red is left than green, and green than blue, under what is brown; the second where
it is faint."""
GRAY_GAIN = 2000.0, 600.0
"""What takes about as much of each colour may be a gap between hairs: it must be clearer; the
second where skin and ink are quiet."""
QUIET = 0.96, 0.027, 0.98
"""Least explained, most noise, least calm of what is quiet."""


def rim_fault(light: Light, fit: RimFit, mm_per_px: float, *, alone: bool) -> str | None:
    """Return what tells a sliver from a pen dot, or None; ``alone``: nothing near may be one."""
    nearly_all = int(fit.explained > CLEARLY_EXPLAINED)
    inked = is_ink_at_an_edge(fit)
    least_within = LEAST_WITHIN[inked or (alone and fit.explained > NEARLY_ALL)]
    is_brighter = float(fit.beyond.mean()) > 1.0
    before, depth = (nearly_all * (1 + holds) for holds in (is_brighter, alone))
    if inked and is_brighter:
        before, depth = 2, 2
    faults = {
        "faint": not inked and _is_faint(fit, mm_per_px),
        "long": not RADIUS_MM[0] <= fit.radius_mm <= RADIUS_MM[1]
        or (fit.before_mm < SHADE_MM[0] and fit.radius_mm > SHADE_MM[1])
        or fit.before_mm > MOST_BEFORE_MM[before]
        or fit.depth_mm > MOST_DEPTH_MM[depth]
        or is_smeared(light, fit, mm_per_px),
        "brown": float(-np.diff(fit.ink).max()) > BROWNER[fit.gain < FAINT_GAIN],
        "hair": fit.is_gray and fit.gain < GRAY_GAIN[_is_quiet(fit)],
        "soft": fit.blur_px > MOST_BLUR_PX
        or (fit.blur_px > BLURRED_PX and fit.explained < BLURRED[_hue(fit) > HUED]),
        "two": fit.within < least_within
        or float(fit.ink.min()) < BLACKEST
        or float(np.abs(fit.beyond - fit.ink).max()) < ALIKE,
    }
    return next((name for name, holds in faults.items() if holds), None)


def _is_faint(fit: RimFit, mm_per_px: float) -> bool:
    clear = (1.0 - float(fit.ink.mean())) * fit.depth_mm / (mm_per_px * fit.blur_px)
    least = CLEAR - FALLS * max(fit.explained - CLEARLY_EXPLAINED, 0.0)
    is_plain = fit.explained > CLEARLY_EXPLAINED and fit.blur_px <= SHARP_PX
    return (
        fit.explained < LEAST_EXPLAINED
        or fit.gain < LEAST_GAIN
        or fit.noise > MOST_NOISE
        or fit.calm < LEAST_CALM
        or float(fit.ink.mean()) > MOST_PALE
        or (clear < least and not is_plain)
    )


def _hue(fit: RimFit) -> float:
    """Return by how much the light differs that ink leaves of the colours; 0 of what is brown."""
    return 0.0 if fit.ink[2] <= fit.ink.min() else float(np.ptp(fit.ink))


def is_ink_at_an_edge(fit: RimFit) -> bool:
    """Return whether a sliver with an ink's hue lies on calm skin before what clearly isn't skin.

    Wiped dots and freckles lie amid skin; such a sliver may be less well explained than others.
    """
    hue, explained, gain, noise, calm, edge = AT_AN_EDGE
    is_calm = fit.noise < noise and fit.calm > calm
    is_edge = float(np.abs(fit.beyond - 1.0).max()) > edge
    is_told = fit.explained > explained and fit.gain > gain
    is_other = _same_colour(fit) < OTHER_COLOUR
    return _hue(fit) > hue and is_edge and is_other and is_calm and is_told


def _is_quiet(fit: RimFit) -> bool:
    explained, noise, calm = QUIET
    return fit.explained > explained and fit.noise < noise and fit.calm > calm


def _same_colour(fit: RimFit) -> float:
    """Return how alike the colours are that ink and what lies beyond take, 1 if the same."""
    beyond, ink = (np.log(np.maximum(each, 0.02)) for each in (fit.beyond, fit.ink))
    return alike(beyond, ink)
