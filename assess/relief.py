"""Relief and cover: what calipers and the depth rod say of the rim's tissue."""

from __future__ import annotations

import numpy as np

from assess.channel import caliper_draws
from assess.marks import CaliperMarks
from assess.space import SpacePlacement
from calibration.draws import Draws
from calibration.frames import Array

U_AXIS_MM = 0.4
"""How far the axis may sit from the middle of the fold (assumed; no source)."""


def relief(
    reading: CaliperMarks | None, space: SpacePlacement | None, label: str, draws: Draws
) -> Array | None:
    """Return draws of how far the crest stands out from the scapha (mm), or None.

    By depth rod and by several views, joined by weighted least squares where both read it.
    """
    seen = space.relief_mm if space is not None else None
    if reading is None or reading.relief_mm is None:
        return seen
    u = reading.u_relief_mm or 0.0
    rod = caliper_draws(reading.relief_mm, u, draws, f"relief of {label}")
    if seen is None or space is None:
        return rod
    variance = sum(line.variance for line in space.relief_lines)
    weight = u**2 / (u**2 + variance)
    return np.asarray(weight * seen + (1.0 - weight) * rod)


def cover(
    reading: CaliperMarks | None, post_mm: float, label: str, draws: Draws
) -> tuple[Array, Array] | None:
    """Return draws of the tissue left in front of and behind the post (mm), or None.

    The thickness of the rim through the middle of the channel, shared out by where the axis
    sits in it, less the post's radius on either side.

    Parameters
    ----------
    reading : caliper readings of this placement
    post_mm : diameter of the post, mm
    """
    if reading is None or reading.fold_depth_mm is None:
        return None
    u = reading.u_fold_depth_mm or 0.0
    fold = caliper_draws(reading.fold_depth_mm, u, draws, f"fold depth of {label}")
    aside = U_AXIS_MM * draws.normal(f"axis in the fold: {label}")
    return fold / 2 + aside - post_mm / 2, fold / 2 - aside - post_mm / 2
