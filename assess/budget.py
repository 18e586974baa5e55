"""The budget of a channel: which input brings which part of its variance, and how it is known.

References
----------
JCGM 100:2008, 5.1.2 (law of propagation), G.4.1 (effective degrees of freedom).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.first_order import FirstOrder, welch_satterthwaite
from calibration.inputs import Basis, Input

OTHER_MARKS_LINE = "marks of other placements"


@dataclass(frozen=True, slots=True)
class Line:
    """One line: its part of the variance (mm²), and the inputs behind it in words."""

    name: str
    variance: float
    distribution: str
    dof: float
    basis: Basis
    source: str
    pool: str = ""
    """Lines of one pool have their u from one and the same evaluation."""

    @property
    def u_mm(self) -> float:
        """Return what it alone contributes to the standard uncertainty."""
        return float(np.sqrt(self.variance))

    def weighed(self, weight: float) -> Line:
        """Return the line where its quantity counts ``weight`` in a mean."""
        return replace(self, variance=weight**2 * self.variance)


def budget_lines(found: FirstOrder, inputs: Sequence[Input], label: str) -> tuple[Line, ...]:
    """Return the lines of one placement's channel, without those that bring nothing.

    Parameters
    ----------
    found : the channel by first order
    inputs : those it was made from
    label : the placement's; marks of other ones share a line
    """
    lines: dict[str, Line] = {}
    for entry in inputs:
        variance = found.variances[entry.name]
        if variance <= 0.0:
            continue
        line = _line(entry, variance, label)
        known = lines.get(line.name)
        lines[line.name] = line if known is None else _joined(known, line)
    return tuple(lines.values())


def _line(entry: Input, variance: float, label: str) -> Line:
    name = entry.line
    if name.startswith("mark of the ") and f": {label}/" not in entry.name:
        name = OTHER_MARKS_LINE
    kind = entry.shape.kind
    words = kind if np.isinf(entry.shape.dof) else f"{kind}, {entry.shape.dof:g} degrees of freedom"
    return Line(name, variance, words, entry.dof, entry.basis, entry.source, entry.pool)


def _joined(a: Line, b: Line) -> Line:
    """Return two inputs' lines as one, with the larger one's words."""
    larger = a if a.variance >= b.variance else b
    pool = a.pool if a.pool == b.pool else ""
    variance = a.variance + b.variance
    return replace(larger, variance=variance, dof=effective_dof((a, b)), pool=pool)


def effective_dof(lines: Sequence[Line]) -> float:
    """Return the degrees of freedom of the lines' sum (Welch-Satterthwaite)."""
    return welch_satterthwaite(np.array([line.variance for line in lines]), lines)


def shares(lines: Iterable[Line]) -> list[tuple[Line, float]]:
    """Return the lines that bring something with their shares of the variance, largest first."""
    known = sorted((line for line in lines if line.variance > 0.0), key=lambda ln: -ln.variance)
    total = sum(line.variance for line in known)
    return [(line, line.variance / total) for line in known]
