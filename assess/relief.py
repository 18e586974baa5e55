"""Relief and cover: what calipers and the depth rod say of the rim's tissue."""

from __future__ import annotations

from assess.channel import caliper_draws
from assess.marks import CaliperMarks
from calibration.draws import Draws
from calibration.frames import Array

U_AXIS_MM = 0.4
"""How far the axis may sit from the middle of the fold (assumed; no source)."""


def relief(reading: CaliperMarks | None, label: str, draws: Draws) -> Array | None:
    """Return draws of how far the crest stands out from the scapha (mm), or None."""
    if reading is None or reading.relief_mm is None:
        return None
    u = reading.u_relief_mm or 0.0
    return caliper_draws(reading.relief_mm, u, draws, f"relief of {label}")


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
