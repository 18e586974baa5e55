"""Input quantities of a measurement model: estimate, uncertainty, distribution, where from.

An input has one component (an offset) or several with a joint covariance (a camera's lens and
pose).  Each is its estimate plus ``root`` times independent standardised components, so that
the draws (JCGM 101) and the sensitivities (JCGM 100) come from one description.

References
----------
JCGM 100:2008, 4.2 and 4.3 (evaluation of type A and B), G.4 (degrees of freedom).
JCGM 101:2008, 6.4 (distributions), 6.4.9 (t), 6.4.6 (arc sine), 6.4.3 (curvilinear trapezoid).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from calibration.draws import Draws
from calibration.frames import Array

Kind = Literal["normal", "t", "rectangular", "arcsine", "curvilinear trapezoid"]
Basis = Literal["measured", "published", "assumed"]

ASSUMED_DOF = 8.0
"""Of an assumed uncertainty, taken to be right within a quarter (JCGM 100, G.4.2)."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A distribution about 0, scaled so that its standard uncertainty (JCGM 100) is 1.

    ``dof`` are those of a t distribution; ``ratio`` is, for a curvilinear trapezoid, how far
    its half-width may be off, over the half-width.
    """

    kind: Kind = "normal"
    dof: float = np.inf
    ratio: float = 0.0

    def __post_init__(self) -> None:
        if self.kind == "t" and not self.dof > 2:
            raise ValueError(f"a t needs more than 2 degrees of freedom (got {self.dof})")

    @property
    def sd(self) -> float:
        """Return the standard deviation of the draws: over 1 for a t, whose u is its scale."""
        return float(np.sqrt(self.dof / (self.dof - 2.0))) if self.kind == "t" else 1.0

    def draw(self, rng: np.random.Generator, size: int, count: int) -> Array:
        """Return draws, (size, count); the components of a t share its denominator."""
        if self.kind in {"normal", "t"}:
            normal = rng.standard_normal((size, count))
            if self.kind == "normal":
                return normal
            return np.asarray(normal * np.sqrt(self.dof / rng.chisquare(self.dof, count)))
        if self.kind == "arcsine":
            return np.asarray(np.sqrt(2.0) * np.sin(2.0 * np.pi * rng.random((size, count))))
        flat = 2.0 * rng.random((size, count)) - 1.0
        if self.kind == "rectangular":
            return np.asarray(np.sqrt(3.0) * flat)
        width = 1.0 + self.ratio * (2.0 * rng.random((size, count)) - 1.0)
        return np.asarray(flat * width / np.sqrt(1.0 / 3.0 + self.ratio**2 / 9.0))


NORMAL = Shape()
RECTANGULAR = Shape("rectangular")
ARCSINE = Shape("arcsine")


def student(dof: float) -> Shape:
    """Return a t distribution."""
    return Shape("t", dof)


@dataclass(frozen=True, slots=True)
class Input:
    """An input quantity.

    Parameters
    ----------
    name : of its draws; the same name is the same quantity
    line : the budget's line that it belongs to; several inputs may share one
    estimate : (n,) array
    root : (n, k) array
        What each of k standardised components moves: ``root @ root.T`` is the covariance
        (that of a t's scale).
    shape : their distribution
    dof : degrees of freedom of the uncertainty itself (JCGM 100, G.4)
    basis : measured, published or assumed
    source : where it comes from, in words
    shared : whether it is the same quantity at every visit
    """

    name: str
    line: str
    estimate: Array
    root: Array
    shape: Shape = field(default=NORMAL)
    dof: float = np.inf
    basis: Basis = "measured"
    source: str = ""
    shared: bool = False

    @classmethod
    def scalar(
        cls,
        name: str,
        estimate: float,
        u: float,
        shape: Shape = NORMAL,
        *,
        line: str | None = None,
        dof: float | None = None,
        basis: Basis = "measured",
        source: str = "",
        shared: bool = False,
    ) -> Input:
        """Return an input of one component with standard uncertainty ``u``."""
        return cls(
            name,
            line or name,
            np.array([estimate], dtype=np.float64),
            np.array([[u]], dtype=np.float64),
            shape,
            shape.dof if dof is None else dof,
            basis,
            source,
            shared,
        )

    @property
    def size(self) -> int:
        """Return how many independent components move it."""
        return int(self.root.shape[1])

    def at(self, components: Array) -> Array:
        """Return its values, (n, R), for standardised components, (k, R)."""
        return np.asarray(self.estimate[:, None] + self.root @ components)

    def draw(self, draws: Draws) -> Array:
        """Return its draws, (n, M)."""
        if not self.root.any():
            return np.broadcast_to(self.estimate[:, None], (len(self.estimate), draws.count))
        rng = draws.generator(self.name, shared=self.shared)
        return self.at(self.shape.draw(rng, self.size, draws.count))


def root_of(covariance: Array) -> Array:
    """Return a matrix whose square is the covariance, (n, n), which may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))
