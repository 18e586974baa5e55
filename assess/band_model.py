"""One view sees the band, not the channel: how far the visible edge lies from the real end.

Where no pen dot is seen the piercer marks the visible edge of the rim.  The edge is where the
line of sight grazes the round rim, the end is where the post meets the skin; the difference
stays with the ear and grows with the view's elevation.  ``python -m benchmarks.band_model``
derives the numbers below from parameter ears (each ear counts once) and prints them; a test
holds the two together.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from calibration.inputs import Input, student

ENDS = ("entry", "exit")
BAND_LINE = "visible band for the channel"


def band_name(label: str) -> str:
    """Return the name of the input that a placement's error at its visible edges is."""
    return f"band for channel: {label}"


@dataclass(frozen=True, slots=True)
class BandModel:
    """Edge minus end along the axis (mm, outward positive), for entry and exit.

    ``mean_mm + slope_mm_per_deg * elevation`` with a bivariate t of ``dof`` degrees of freedom
    whose scale matrix is ``scale_mm2``.
    """

    mean_mm: tuple[float, float]
    slope_mm_per_deg: tuple[float, float]
    scale_mm2: tuple[tuple[float, float], tuple[float, float]]
    dof: float
    ears: int

    def error(self, label: str, ends: Collection[str]) -> Input:
        """Return the error of those ends that were marked on the visible edge, at elevation 0.

        Parameters
        ----------
        label : the placement's
        ends : which of ``entry`` and ``exit``; the input has a component for each
        """
        marked = [i for i, end in enumerate(ENDS) if end in ends]
        return Input(
            band_name(label),
            BAND_LINE,
            np.asarray(self.mean_mm)[marked],
            np.linalg.cholesky(np.asarray(self.scale_mm2)[np.ix_(marked, marked)]),
            student(self.dof),
            self.dof,
            "measured",
            f"{self.ears} parameter ears",
        )

    def slopes_mm_per_deg_of(self, ends: Collection[str]) -> tuple[float, ...]:
        """Return how the errors of those ends grow with the elevation, entry first."""
        pairs = zip(ENDS, self.slope_mm_per_deg, strict=True)
        return tuple(slope for end, slope in pairs if end in ends)

    def variance_mm2(self, ends: Collection[str]) -> float:
        """Return the variance of the summed error of the ends marked on the edge, mm²."""
        marked = np.array([float(end in ends) for end in ("entry", "exit")])
        scale = marked @ np.asarray(self.scale_mm2) @ marked
        return float(scale * self.dof / (self.dof - 2.0))


BAND_MODEL = BandModel(
    mean_mm=(0.082, 0.413),
    slope_mm_per_deg=(-0.0054, 0.0208),
    scale_mm2=((0.0105, 0.0096), (0.0096, 0.1045)),
    dof=12,
    ears=14,
)
"""Derived from 14 parameter ears; see the module's text."""
