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

from collections.abc import Sequence
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

    ``dof`` are those of a t distribution, more than 2 and finite; ``ratio`` is, for a
    curvilinear trapezoid, how far its half-width may be off, over the half-width.
    """

    kind: Kind = "normal"
    dof: float = np.inf
    ratio: float = 0.0

    def __post_init__(self) -> None:
        if self.kind == "t" and not 2 < self.dof < np.inf:
            raise ValueError(f"'dof' of a t must be finite and more than 2 (got {self.dof})")
        if not 0.0 <= self.ratio <= 1.0:
            raise ValueError(f"'ratio' must lie in 0 to 1 (got {self.ratio})")

    @property
    def sd(self) -> float:
        """Return the standard deviation of the draws: over 1 for a t, whose u is its scale."""
        return float(np.sqrt(self.dof / (self.dof - 2.0))) if self.kind == "t" else 1.0

    def draw(self, rng: np.random.Generator, size: int, count: int) -> Array:
        """Return draws, (size, count); more components leave the first ones as they were.

        The components of a t share its denominator.
        """
        if self.kind == "normal":
            return rng.standard_normal((size, count))
        if self.kind == "t":
            heavy = np.sqrt(self.dof / rng.chisquare(self.dof, count))
            return np.asarray(rng.standard_normal((size, count)) * heavy)
        if self.kind == "arcsine":
            return np.asarray(np.sqrt(2.0) * np.sin(2.0 * np.pi * rng.random((size, count))))
        if self.kind == "rectangular":
            return np.asarray(np.sqrt(3.0) * (2.0 * rng.random((size, count)) - 1.0))
        flat, off = np.moveaxis(2.0 * rng.random((size, 2, count)) - 1.0, 1, 0)
        width = 1.0 + self.ratio * off
        return np.asarray(flat * width / np.sqrt(1.0 / 3.0 + self.ratio**2 / 9.0))


NORMAL = Shape()
RECTANGULAR = Shape("rectangular")
ARCSINE = Shape("arcsine")


def student(dof: float) -> Shape:
    """Return a t distribution, which with endless degrees of freedom is a normal one."""
    return NORMAL if np.isinf(dof) else Shape("t", dof)


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
    dof : degrees of freedom of the uncertainty itself (JCGM 100, G.4); a t brings its own
    basis : measured, published or assumed
    source : where it comes from, in words
    shared : whether it is the same quantity at every visit
    pool : inputs of one pool have their u from one and the same evaluation, so it errs for all
        of them alike; they count once for the degrees of freedom
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
    pool: str = ""

    def __post_init__(self) -> None:
        n = len(self.estimate)
        if self.root.ndim != 2 or self.root.shape[0] != n or self.root.shape[1] < 1:
            raise ValueError(f"'root' of {self.name} must be ({n}, k) (got {self.root.shape})")
        if np.isinf(self.dof) and self.shape.kind == "t":
            object.__setattr__(self, "dof", self.shape.dof)

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
        pool: str = "",
    ) -> Input:
        """Return an input of one component with standard uncertainty ``u``."""
        return cls(
            name,
            line or name,
            np.array([estimate], dtype=np.float64),
            np.array([[u]], dtype=np.float64),
            shape,
            np.inf if dof is None else dof,
            basis,
            source,
            shared,
            pool,
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


def refuse_namesakes(inputs: Sequence[Input]) -> None:
    """Raise ValueError where two inputs have one name: a model would see only the last."""
    names = [entry.name for entry in inputs]
    if twice := sorted({name for name in names if names.count(name) > 1}):
        raise ValueError(f"'inputs' must have names of their own (got {', '.join(twice)} twice)")


def root_of(covariance: Array) -> Array:
    """Return a matrix whose square is the covariance, (n, n), which may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return np.asarray(vectors * np.sqrt(np.clip(values, 0.0, None)))
