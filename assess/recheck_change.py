"""What a comparison with the baseline says: numbers with their U, or why there are none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.stats import chi2, norm

from assess.recheck_registration import Registered
from calibration.frames import Array

End = Literal["entry", "exit"]
ENDS: tuple[End, ...] = ("entry", "exit")
K_ONE, K_PLANE = float(norm.ppf(0.975)), float(np.sqrt(chi2.ppf(0.95, 2)))
"""U over u at 95 %: of a number, 1.96, and of a place in a plane, 2.45."""
Why = Literal["view", "no_rim", "no_match", "no_axis"]


@dataclass(frozen=True, slots=True)
class NotComparable:
    """Why two photos aren't compared, and how far the view is off (deg) where that is known."""

    why: Why
    view_change_deg: float | None = None
    aside_deg: tuple[float, float] = (0.0, 0.0)
    """How far the new view is to the back and below the baseline's, seen as the baseline is."""


@dataclass(frozen=True, slots=True)
class Turned:
    """A change of angle, deg; ``expanded`` is U at 95 %."""

    value: float
    u: float

    @property
    def expanded(self) -> float:
        """Return U."""
        return K_ONE * self.u

    @property
    def moved(self) -> bool:
        """Return whether it is over its own U."""
        return abs(self.value) > self.expanded


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """How an end moved, mm: along the baseline's axis (toward the entry) and toward the face."""

    vector: Array  # (2,)
    covariance: Array  # (2, 2)

    @property
    def size(self) -> float:
        """Return how far."""
        return float(np.linalg.norm(self.vector))

    @property
    def expanded(self) -> float:
        """Return U in the direction in which it moved: 2.45 sigma, as it is a place in a plane."""
        if self.size == 0.0:
            return K_PLANE * float(np.sqrt(np.linalg.eigvalsh(self.covariance)[-1]))
        way = self.vector / self.size
        return K_PLANE / float(np.sqrt(way @ np.linalg.solve(self.covariance, way)))

    @property
    def moved(self) -> bool:
        """Return whether it is over its own U."""
        return self.size > self.expanded

    def holds(self, truth: Array) -> bool:
        """Return whether a vector, (2,), lies in the 95 % ellipse."""
        off = self.vector - truth
        return bool(off @ np.linalg.solve(self.covariance, off) <= K_PLANE**2)


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One post against its baseline, by one photo of each visit.

    ``tilt``: of the axis in the rim's plane, positive toward the face at its upper end; ``ends``:
    those that both photos show; ``draws``: (1 + 2 n, M) of tilt and ends; ``parts`` what each
    input brings to the variance of each of these rows.
    """

    label: str
    photos: tuple[str, str]
    tilt: Turned
    ends: Mapping[End, Shift]
    view_change_deg: float
    registered: Registered
    draws: Array
    parts: Mapping[str, Array]
