"""What tells a smear's end from a pen dot half round a rim's edge: it runs on past the edge."""

from __future__ import annotations

import numpy as np

from calibration.frames import Array
from tracing.light import Light, light_at
from tracing.rim_fit import RimFit

MIDDLE, BESIDE_MM, PAST_MM = 0.6, (0.12, 0.45), (0.1, 0.5)
"""Where it is looked for: half as wide as the dot times the first, and so far past the edge; it is
held against as much so far beside the dot."""
STEPS = 6
LEAST, HUE = (0.1, 0.15), 0.4
"""Share that it takes of what ink takes of the light, at least, the second of gray ink; and what
it has of the ink's hue, as a share of that: hair and shadow are gray."""
DARKEST = 0.05
"""Less light than this is taken for so much."""


def is_smeared(light: Light, fit: RimFit, mm_per_px: float) -> bool:
    """Return whether ink runs on past a sliver's edge, so that no edge is there."""
    ink = np.log(np.maximum(fit.ink, DARKEST))
    beyond = np.log(np.maximum(fit.beyond, DARKEST))
    if not float(ink.mean()) < float(beyond.mean()) < 0.0:
        return False  # what takes more light than ink, or none, is no more of it
    hue = ink - ink.mean()
    for ridge in _ridges(light, fit, mm_per_px):
        share = float(ridge @ ink) / float(ink @ ink)
        hued = fit.is_gray or float(ridge @ hue) > HUE * share * float(hue @ hue)
        if share > LEAST[fit.is_gray] and hued:
            return True
    return False


def _ridges(light: Light, fit: RimFit, mm_per_px: float) -> tuple[Array, Array]:
    """Return how much brighter it is past the edge behind the dot than on either side of that.

    (3,) each, in the logarithm of light.
    """
    wide = MIDDLE * fit.radius_mm
    middle = _past(light, fit, mm_per_px, np.linspace(-wide, wide, STEPS))
    aside = fit.radius_mm + np.linspace(*BESIDE_MM, STEPS)
    one, other = (middle - _past(light, fit, mm_per_px, way * aside) for way in (-1.0, 1.0))
    return one, other


def _past(light: Light, fit: RimFit, mm_per_px: float, along_mm: Array) -> Array:
    """Return the light past the edge at places along it, (K,) mm from the centre: (3,)."""
    on = np.array([-fit.out[1], fit.out[0]])
    edge_mm = np.polyval(fit.edge[::-1], along_mm)
    out_mm = edge_mm + np.linspace(*PAST_MM, STEPS)[:, None]
    ways_mm = along_mm[:, None] * on + out_mm[..., None] * fit.out
    places = fit.centre + ways_mm.reshape(-1, 2) / mm_per_px
    return np.asarray(np.median(light_at(light, places), axis=0))
