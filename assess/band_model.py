"""One view sees the band, not the channel: how far the visible edge lies from the real end.

Where no pen dot is seen the piercer marks the visible edge of the rim.  The edge is where the
line of sight grazes the round rim, the end is where the post meets the skin; the difference
stays with the ear and bends with the view's elevation: a round rim of radius r is grazed
``r (1 / cos(elevation) - 1)`` further out, an end that lies deeper shifts with the elevation's
tangent.  So each ear has a parabola in elevation for each end, and ears differ in all its
coefficients.  ``python -m benchmarks.band_model`` derives the numbers below from parameter ears
(each ear counts once) and prints them; a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from calibration.frames import Array
from calibration.inputs import Input, root_of, student

ENDS = ("entry", "exit")
BAND_LINE = "visible band for the channel"
COEFFICIENTS = 3
STEP_DEG = 10.0
"""Elevations are counted in tens of degrees: the coefficients are mm, mm a step, mm a step²."""


def band_name(label: str) -> str:
    """Return the name of the input that a placement's error at its visible edges is."""
    return f"band for channel: {label}"


def powers(elevation_deg: Array) -> Array:
    """Return 1, x and x² of an elevation (x in steps of ten degrees), (3, R)."""
    x = np.asarray(elevation_deg) / STEP_DEG
    return np.stack([np.ones_like(x), x, x * x])


@dataclass(frozen=True, slots=True)
class BandModel:
    """Edge minus end along the axis (mm, outward positive), for entry and exit.

    Each end's error is a parabola in elevation; the six coefficients, entry's first, are those
    of an ear yet unseen: a t of ``dof`` degrees of freedom about ``mean`` with scale matrix
    ``scale``, (6, 6).
    """

    mean: tuple[float, ...]
    scale: tuple[tuple[float, ...], ...]
    dof: float
    ears: int

    def error(self, label: str, ends: Collection[str]) -> Input:
        """Return the coefficients of those ends that were marked on the visible edge.

        Parameters
        ----------
        label : the placement's
        ends : which of ``entry`` and ``exit``; the input has three components for each
        """
        marked = [i for i, end in enumerate(np.repeat(ENDS, COEFFICIENTS)) if end in ends]
        return Input(
            band_name(label),
            BAND_LINE,
            np.asarray(self.mean)[marked],
            root_of(np.asarray(self.scale)[np.ix_(marked, marked)]),
            student(self.dof),
            self.dof,
            "measured",
            f"{self.ears} parameter ears",
        )

    def variance_mm2(self, ends: Collection[str], elevation_deg: float = 0.0) -> float:
        """Return the variance of the summed error of the ends marked on the edge, mm²."""
        marked = np.repeat([float(end in ends) for end in ENDS], COEFFICIENTS)
        weights = marked * np.tile(powers(np.asarray(elevation_deg)), len(ENDS))
        scale = weights @ np.asarray(self.scale) @ weights
        return float(scale * self.dof / (self.dof - 2.0))


BAND_MODEL = BandModel(
    mean=(0.018, -0.0542, 0.0383, 0.3508, 0.2076, 0.0374),
    scale=(
        (0.00281, -0.00232, 0.0, 0.01152, 0.00339, -0.00019),
        (-0.00232, 0.00261, -0.00014, -0.01041, -0.00401, -5e-05),
        (0.0, -0.00014, 0.00011, -0.00014, 0.00018, 9e-05),
        (0.01152, -0.01041, -0.00014, 0.08355, 0.02493, -0.00213),
        (0.00339, -0.00401, 0.00018, 0.02493, 0.01173, -2e-05),
        (-0.00019, -5e-05, 9e-05, -0.00213, -2e-05, 0.00039),
    ),
    dof=13,
    ears=14,
)
"""Derived from 14 parameter ears; see the module's text."""
