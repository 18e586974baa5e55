"""How well a piercer's marks repeat, and what that makes of the uncertainty of a mark.

The same points of the same photo are marked two to five times, unsnapped.  Their scatter about
each point's own mean, pooled over that piercer's past, is the piercer's own repeatability.

The rule (an assumed standard uncertainty stands until at least :data:`LEAST_DOF` degrees of
freedom have been learned):

===================  =====================================================================
nothing learned      normal, standard deviation the assumed 0.2 mm (``assess.reading``)
fewer than 8         the assumption stays in, as if it came from 8 degrees of freedom, and
                     what was learned is weighed with it: a scaled t with 8 + dof
8 and more           the pooled s alone: a scaled t with its own degrees of freedom
===================  =====================================================================

In the middle row the assumed 0.2 mm is the standard deviation of a t with 8 degrees of freedom
(the conjugate prior of a normal's variance), so the first repeats begin where the assumption
stood and nothing jumps: with s and v degrees of freedom, u² = (6 · 0.2² + v s²) / (6 + v).

What repeats can't show stays apart: where two good piercers would put the mark differently.
:data:`U_DEFINITION_MM` stands for that.  It is never divided by the number of passes.

References
----------
JCGM 100:2008, 4.2.3 (the mean's variance is s²/n), 4.2.4 (pooled estimates), 4.3.8 and D.1.1
(incomplete definition of the measurand is a component of its own), E.4.3 (how well s is known).
JCGM 101:2008, 6.4.9 (scaled and shifted t).  ISO 5725-2 (repeatability standard deviation).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2

from assess.reading import U_MARK_MM
from calibration.draws import Draws
from calibration.frames import Array
from calibration.quantity import Quantity

LEAST_DOF = 8
"""Degrees of freedom from which a piercer's own scatter takes the assumption's place."""

U_DEFINITION_MM = 0.1
"""Where two good piercers would put a mark differently, each axis, as a standard uncertainty.

Assumption: common practice, no source.
"""

LEAST_PASSES, MOST_PASSES = 2, 5
"""How often a photo is marked in all: the first marks and the repeats."""


@dataclass(frozen=True, slots=True)
class MarkSample:
    """One point as one piercer marked it in one pass, mm in the card's frame.

    ``photo`` and ``label`` only tell points apart: a name, a hash or a random id will do.
    """

    by: str
    photo: str
    label: str
    point: str
    number: int
    """The pass: 1 are the first marks."""
    x_mm: float
    y_mm: float

    @property
    def place(self) -> tuple[str, str, str]:
        """Return which point of which photo it is, whoever marked it."""
        return self.photo, self.label, self.point


@dataclass(frozen=True, slots=True)
class Scatter:
    """A pooled standard deviation, each axis, and what stands behind it."""

    s_mm: float
    dof: int
    points: int
    """Points that were marked at least twice."""
    photos: int

    @property
    def quantity(self) -> Quantity:
        """Return the standard deviation with its 95 % confidence interval, mm.

        The interval is the chi-squared one; u is s/sqrt(2 dof) (JCGM 100:2008, E.4.3).
        """
        low, high = self.s_mm * np.sqrt(self.dof / chi2.ppf([0.975, 0.025], self.dof))
        u = self.s_mm / math.sqrt(2 * self.dof)
        return Quantity(self.s_mm, u, float(low), float(high), "mm")


@dataclass(frozen=True, slots=True)
class MarkUncertainty:
    """How a mark by hand scatters, each axis: a t about the point, scaled by ``scale_mm``.

    ``dof`` is infinite for a normal distribution; ``learned`` is what repeats have shown.
    """

    scale_mm: float
    dof: float
    learned: Scatter | None = None

    @property
    def own(self) -> bool:
        """Return whether the piercer's own scatter has taken the assumption's place."""
        return self.learned is not None and self.learned.dof >= LEAST_DOF

    @property
    def u_mm(self) -> float:
        """Return the standard uncertainty of one mark, each axis (JCGM 101:2008, 6.4.9.4)."""
        if math.isinf(self.dof):
            return self.scale_mm
        return self.scale_mm * math.sqrt(self.dof / (self.dof - 2))

    def of_mean(self, passes: int) -> float:
        """Return the standard uncertainty of the mean of some passes, each axis, mm.

        The random part shrinks by the root of their number; the definition's part stays whole.
        """
        if passes < 1:
            raise ValueError(f"'passes' must be at least 1 (got {passes})")
        return math.hypot(self.u_mm / math.sqrt(passes), U_DEFINITION_MM)

    def draw(self, draws: Draws, name: str, passes: int = 1) -> Array:
        """Return draws of a mean mark about the point it stands for, (M, 2) mm.

        Each axis is a scaled t (JCGM 101:2008, 6.4.9) plus the definition's normal part.
        """
        if math.isinf(self.dof):
            random = draws.normal(f"mark: {name}", 2)
        else:
            axes = [draws.student_t(f"mark: {name}: {axis}", self.dof) for axis in "xy"]
            random = np.stack(axes, axis=-1)
        definition = U_DEFINITION_MM * draws.normal(f"definition: {name}", 2)
        return np.asarray(self.scale_mm / math.sqrt(passes) * random + definition)


def pooled_scatter(samples: Iterable[MarkSample]) -> Scatter | None:
    """Return the scatter of marks about their point's own mean, pooled over all points.

    Each piercer's marks of a point have a mean of their own, so a difference between piercers
    doesn't enter.  A point with n passes brings n - 1 degrees of freedom on each of its two
    axes, 2 (n - 1) in all; the axes are pooled as one.

    Parameters
    ----------
    samples : marks of any points; those that were marked once tell nothing and are left out

    Returns
    -------
    Scatter, or None where no point was marked twice

    References
    ----------
    JCGM 100:2008, 4.2.4; ISO 5725-2, repeatability variance.
    """
    cells = [cell for cell in _cells(samples).values() if len(cell) >= LEAST_PASSES]
    if not cells:
        return None
    dof = sum(2 * (len(cell) - 1) for cell in cells)
    squares = sum(_squares(cell) for cell in cells)
    photos = {cell[0].photo for cell in cells}
    points = {cell[0].place for cell in cells}
    return Scatter(math.sqrt(squares / dof), dof, len(points), len(photos))


def _cells(samples: Iterable[MarkSample]) -> Mapping[Hashable, list[MarkSample]]:
    """Return the marks by piercer and point."""
    cells: dict[Hashable, list[MarkSample]] = defaultdict(list)
    for sample in samples:
        cells[(sample.by, *sample.place)].append(sample)
    return cells


def _squares(cell: list[MarkSample]) -> float:
    at = np.array([[sample.x_mm, sample.y_mm] for sample in cell])
    return float(((at - at.mean(axis=0)) ** 2).sum())


def scatter_by_piercer(samples: Iterable[MarkSample]) -> dict[str, Scatter]:
    """Return each piercer's own scatter, by name; without those who never repeated a point."""
    by: dict[str, list[MarkSample]] = defaultdict(list)
    for sample in samples:
        by[sample.by].append(sample)
    found = {name: pooled_scatter(by[name]) for name in sorted(by)}
    return {name: scatter for name, scatter in found.items() if scatter is not None}


def mark_uncertainty(learned: Scatter | None, assumed_mm: float = U_MARK_MM) -> MarkUncertainty:
    """Return the uncertainty of a mark by hand after what was learned (the module's rule).

    Parameters
    ----------
    learned : the piercer's pooled scatter, None where nothing was repeated
    assumed_mm : the standard uncertainty that is assumed without knowing the piercer, mm

    Examples
    --------
    >>> mark_uncertainty(None).u_mm
    0.2
    >>> few = mark_uncertainty(Scatter(0.1, 4, 1, 1))
    >>> round(few.u_mm, 3), few.dof
    (0.167, 12)
    >>> enough = mark_uncertainty(Scatter(0.1, 12, 3, 1))
    >>> round(enough.u_mm, 3), enough.dof
    (0.11, 12)
    """
    if learned is None:
        return MarkUncertainty(assumed_mm, math.inf)
    if learned.dof >= LEAST_DOF:
        return MarkUncertainty(learned.s_mm, learned.dof, learned)
    # The prior's scale: a t with LEAST_DOF of that scale has the assumed standard deviation.
    prior = (LEAST_DOF - 2) * assumed_mm**2
    dof = LEAST_DOF + learned.dof
    return MarkUncertainty(math.sqrt((prior + learned.dof * learned.s_mm**2) / dof), dof, learned)
