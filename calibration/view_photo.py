"""One of several photos as the joint adjustment takes it: card, lens, pen dots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from calibration.frames import Array
from calibration.lens import LensPrior
from calibration.pose import OUTLIER_PX, OUTLIER_SIGMAS, PlaneFit

U_CORNER_PX = 0.1
"""Least standard uncertainty of a corner, each axis; a worse fit takes its place."""
U_LEAST_PX = 0.02
"""Nothing is marked better than this, whatever is told."""


@dataclass(frozen=True, slots=True)
class Mark:
    """A pen dot in one photo: where (px, unmirrored picture) and its u, each axis (px)."""

    at_px: tuple[float, float]
    u_px: float

    @property
    def weighed_px(self) -> float:
        """Return the u that the mark is weighed with, px."""
        return max(self.u_px, U_LEAST_PX)


@dataclass(frozen=True, slots=True)
class ViewPhoto:
    """A photo of the card and of pen dots.

    ``lens`` names the lens; photos of the same name share f and k1, and ``prior`` counts once.
    ``fit`` is the photo's own, where the adjustment starts.  ``corners_px`` and ``corners_mm``
    are (N, 2), right ones only, ``u_corner_px`` their standard uncertainty, each axis.  ``marks``
    holds pen dots by the name that they have in every photo; marks on an outline are no dots and
    must be left out.
    """

    name: str
    lens: str
    prior: LensPrior
    fit: PlaneFit
    corners_px: Array
    corners_mm: Array
    u_corner_px: float
    marks: Mapping[str, Mark]

    @property
    def places_mm(self) -> Array:
        """Return the corners in the card's frame, (N, 3) mm."""
        return np.column_stack([self.corners_mm, np.zeros(len(self.corners_mm))])

    def with_marks(self, marks: Mapping[str, Mark]) -> ViewPhoto:
        """Return the same photo with other marks."""
        return replace(self, marks=marks)


def view_photo(
    name: str,
    lens: str,
    prior: LensPrior,
    fit: PlaneFit,
    corners: tuple[Array, Array],
    marks: Mapping[str, Mark],
) -> ViewPhoto:
    """Return the photo, without the corners that its own fit found wrong.

    Parameters
    ----------
    name, lens, prior, fit, marks : see `ViewPhoto`
    corners : pixels and printed places (mm, corrected by the check bars), (N, 2) each
    """
    seen, places = corners
    gap = seen - fit.project(np.column_stack([places, np.zeros(len(places))]))
    sigma = 1.4826 * float(np.median(np.abs(gap)))
    right = np.linalg.norm(gap, axis=1) <= max(OUTLIER_SIGMAS * sigma, OUTLIER_PX)
    return ViewPhoto(
        name, lens, prior, fit, seen[right], places[right], corner_u_px(gap[right]), marks
    )


def corner_u_px(gaps_px: Array) -> float:
    """Return a corner's standard uncertainty, each axis, px, by a fit's residuals, (N, 2)."""
    return max(U_CORNER_PX, float(np.sqrt(np.sum(gaps_px**2) / max(gaps_px.size - 6, 1))))
