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

from calibration.draws import Draws
from calibration.frames import Array


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

    def draw(self, ends: Collection[str], elevation_deg: Array, draws: Draws, name: str) -> Array:
        """Return draws of the error at (entry, exit), zero where that end's dot was marked.

        Parameters
        ----------
        ends : which of ``entry`` and ``exit`` were marked on the visible edge
        elevation_deg : (M,) array
            Of the line of sight above the plane's normal, toward the entry.
        name : the placement's name among the draws

        Returns
        -------
        (M, 2) array, mm
        """
        marked = np.array([end in ends for end in ("entry", "exit")])
        root = np.linalg.cholesky(np.asarray(self.scale_mm2))
        chi = draws.normal(f"band for channel, spread: {name}", round(self.dof))
        heavy = np.sqrt(self.dof / np.einsum("mk,mk->m", chi, chi))
        spread = draws.normal(f"band for channel: {name}", 2) @ root.T * heavy[:, None]
        line = np.asarray(self.mean_mm) + np.outer(elevation_deg, self.slope_mm_per_deg)
        return np.where(marked, line + spread, 0.0)

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
