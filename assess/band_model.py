"""One view sees the band, not the channel: how far the visible edge lies from the real end.

Where no pen dot is seen the piercer marks the visible edge of the rim.  The edge is where the
line of sight grazes the round rim, the end is where the post meets the skin; the difference
stays with the ear and bends with the view's elevation: a round rim of radius r is grazed
``r (1 / cos(elevation) - 1)`` further out, an end that lies deeper shifts with the elevation's
tangent.  So each ear has a parabola in elevation for each end, and ears differ in all its
coefficients.  What an ear's places scatter about its own parabola is each place's own.  So
placements on one ear share most of this error, and several visits do too.  ``python -m
benchmarks.band_model`` derives the numbers below from parameter ears (each ear counts once) and
prints them; a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calibration.frames import Array
from calibration.inputs import Input, root_of, student

ENDS = ("entry", "exit")
BAND_LINE = "visible band for the channel"
COEFFICIENTS = 3
PLACES = 5
"""Along each parameter ear."""
STEP_DEG = 10.0
"""Elevations are counted in tens of degrees: the coefficients are mm, mm a step, mm a step²."""


Side = Literal["left", "right"]


def ear_band(side: Side) -> str:
    """Return the name of the input that one ear's error at its visible edges is."""
    return f"band for channel: {side} ear"


def place_band(label: str) -> str:
    """Return the name of the input by which a placement's error differs from its ear's."""
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
    ``scale``, (6, 6).  ``within``, (2, 2), is the covariance of what the ends at one place
    differ from that, from ``places`` places on each of the ``ears``.
    """

    mean: tuple[float, ...]
    scale: tuple[tuple[float, ...], ...]
    dof: float
    ears: int
    within: tuple[tuple[float, float], tuple[float, float]] = ((0.0, 0.0), (0.0, 0.0))
    places: int = PLACES

    def ear(self, side: Side) -> Input:
        """Return the coefficients of an ear: six, the same at all its places and visits."""
        return Input(
            ear_band(side),
            BAND_LINE,
            np.asarray(self.mean),
            root_of(np.asarray(self.scale)),
            student(self.dof),
            self.dof,
            "measured",
            f"{self.ears} parameter ears",
            shared=True,
        )

    def place(self, label: str) -> Input:
        """Return by how much the two ends of one placement differ from its ear's parabolas."""
        return Input(
            place_band(label),
            BAND_LINE,
            np.zeros(len(ENDS)),
            root_of(np.asarray(self.within)),
            dof=float(self.ears * (self.places - 1)),
            source=f"{self.ears} parameter ears",
        )

    def variance_mm2(self, ends: Collection[str], elevation_deg: float = 0.0) -> float:
        """Return the variance of the summed error of the ends marked on the edge, mm²."""
        marked = np.array([float(end in ends) for end in ENDS])
        weights = np.repeat(marked, COEFFICIENTS) * np.tile(
            powers(np.asarray(elevation_deg)), len(ENDS)
        )
        scale = weights @ np.asarray(self.scale) @ weights
        own = marked @ np.asarray(self.within) @ marked
        return float(scale * self.dof / (self.dof - 2.0) + own)


BAND_MODEL = BandModel(
    mean=(0.018, -0.0542, 0.0383, 0.3508, 0.2076, 0.0374),
    scale=(
        (0.0025, -0.00232, 0.0, 0.01153, 0.00339, -0.00019),
        (-0.00232, 0.00261, -0.00014, -0.01041, -0.00401, -5e-05),
        (0.0, -0.00014, 0.00011, -0.00014, 0.00018, 9e-05),
        (0.01153, -0.01041, -0.00014, 0.08175, 0.02493, -0.00213),
        (0.00339, -0.00401, 0.00018, 0.02493, 0.01173, -2e-05),
        (-0.00019, -5e-05, 9e-05, -0.00213, -2e-05, 0.00039),
    ),
    dof=13,
    ears=14,
    within=((0.00031, -1e-05), (-1e-05, 0.0018)),
)
"""Derived from 14 parameter ears; see the module's text."""
