"""What a comparison with the baseline says: numbers with their U, or why there are none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from scipy.stats import chi2, norm

from assess.recheck_registration import Registered
from assess.recheck_space_registration import SpaceRegistered
from calibration.draws import Draws
from calibration.frames import Array

End = Literal["entry", "exit"]
ENDS: tuple[End, ...] = ("entry", "exit")
K_ONE, K_PLANE = float(norm.ppf(0.975)), float(np.sqrt(chi2.ppf(0.95, 2)))
"""U over u at 95 %: of a number, 1.96, and of a place in a plane, 2.45."""
K_SPACE = float(np.sqrt(chi2.ppf(0.95, 3)))
"""The same of a place in space, 2.80."""
VISITS = ("baseline: ", "now: ")
"""What the names of a visit's own inputs begin with."""
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
    """A change of angle, deg, positive toward the face; ``expanded`` is U at 95 %."""

    value: float
    u: float
    factor: float = K_ONE
    """U over u: more than 1.96 where the error is a product of two unknowns, with heavier tails."""

    @property
    def expanded(self) -> float:
        """Return U."""
        return self.factor * self.u

    @property
    def moved(self) -> bool:
        """Return whether it is over its own U."""
        return abs(self.value) > self.expanded

    @property
    def toward_face(self) -> tuple[float, float]:
        """Return the part in the rim's plane and its u, deg: what several visits have alike."""
        return self.value, self.u


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """How an end moved, mm: along the baseline's axis (toward the entry) and toward the face.

    In space a third number says how far outward, toward the viewer.
    """

    vector: Array  # (2,) or (3,)
    covariance: Array
    factor: float | None = None
    """U over sigma, where it isn't that of a normal error."""

    @property
    def size(self) -> float:
        """Return how far."""
        return float(np.linalg.norm(self.vector))

    @property
    def k(self) -> float:
        """Return U over sigma: a place in a plane, or in space."""
        if self.factor is not None:
            return self.factor
        return K_PLANE if len(self.vector) == 2 else K_SPACE

    @property
    def expanded(self) -> float:
        """Return U in the direction in which it moved: 2.45 sigma in a plane, 2.80 in space."""
        if self.size == 0.0:
            return self.k * float(np.sqrt(np.linalg.eigvalsh(self.covariance)[-1]))
        way = self.vector / self.size
        return self.k / float(np.sqrt(way @ np.linalg.solve(self.covariance, way)))

    @property
    def moved(self) -> bool:
        """Return whether it is over its own U."""
        return self.size > self.expanded

    def holds(self, truth: Array) -> bool:
        """Return whether a vector lies in the 95 % ellipse or ellipsoid."""
        off = self.vector - truth
        return bool(off @ np.linalg.solve(self.covariance, off) <= self.k**2)


@dataclass(frozen=True, slots=True)
class Leaned(Turned):
    """A change of an axis in space, deg: ``value`` is how far it turned, whichever way.

    ``way`` has it toward the face and outward, toward the viewer, with their covariance;
    ``u`` is so that U is 2.45 sigma in the direction in which it turned.
    """

    way: Shift = field(kw_only=True)

    @classmethod
    def of(cls, vector: Array, covariance: Array) -> Leaned:
        """Return it by both of its parts, (2,) deg, and their covariance."""
        way = Shift(vector, covariance)
        return cls(way.size, way.expanded / K_PLANE, way=way)

    @property
    def expanded(self) -> float:
        """Return U."""
        return self.way.expanded

    @property
    def toward_face(self) -> tuple[float, float]:
        """Return the part toward the face and its u, deg."""
        return float(self.way.vector[0]), float(np.sqrt(self.way.covariance[0, 0]))


@dataclass(frozen=True, slots=True)
class InSpace:
    """By what a change was measured in space: both visits' photos, and the places held alike.

    ``left_out`` are places that didn't lie as the others do.
    """

    photos: tuple[tuple[str, ...], tuple[str, ...]]
    shared: tuple[str, ...]
    left_out: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One post against its baseline, by one photo of each visit, or by several.

    ``tilt``: of the axis in the rim's plane, positive toward the face at its upper end; ``ends``:
    those that both photos show; ``draws``: (1 + 2 n, M) of tilt and ends; ``parts`` what each
    input brings to the variance of each of these rows.

    By several photos (``in_space``) the tilt is a `Leaned`, has two rows, each end has three; there
    is no change of view, and ``photos`` are the first of each visit.
    """

    label: str
    photos: tuple[str, str]
    tilt: Turned
    ends: Mapping[End, Shift]
    view_change_deg: float | None
    registered: Registered | SpaceRegistered
    draws: Array
    parts: Mapping[str, Array]
    in_space: InSpace | None = None


SHARED = {
    "common": "print scale",
    "axes": "print scale by axis",
    "print scale": "print scale",
    "print scale by axis": "print scale by axis",
}
"""Inputs of both visits, by the names that they have in the measurement."""


def drawn(rows: Array, loadings: Mapping[str, Array], draws: tuple[Draws, Draws]) -> Array:
    """Return draws of rows, (Q, M): each input by its name, and of its visit."""
    out = np.repeat(rows[:, None], draws[1].count, axis=1)
    for name, part in loadings.items():
        which, _, own = name.partition(": ") if name.startswith(VISITS) else ("", "", "")
        visit = draws[0] if which == "baseline" else draws[1]
        rng = visit.generator(SHARED.get(name, own or name), shared=name in SHARED)
        out += part @ rng.standard_normal((part.shape[1], visit.count))
    return out
