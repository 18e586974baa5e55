"""The law of propagation of uncertainty: first order, with degrees of freedom and a budget.

References
----------
JCGM 100:2008, 5.1.2 and 5.1.3 note 2 (numeric sensitivities), 5.2.2 (correlated inputs, here
by their independent components), G.4.1 (Welch-Satterthwaite), G.6.4 (expanded uncertainty).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy.stats import t as student

from calibration.frames import Array
from calibration.inputs import Input, refuse_namesakes

Model = Callable[[Mapping[str, Array]], Array]
"""Values of the inputs by name, (n, R) each -> outputs, (Q, R) or (R,)."""

STEP = 1e-3
"""Of a standardised component: small against any curvature, large against rounding."""


@dataclass(frozen=True, slots=True)
class FirstOrder:
    """One output: estimate, combined standard uncertainty, effective degrees of freedom."""

    value: float
    u: float
    dof: float
    variances: Mapping[str, float]
    """Input -> its part of the variance."""

    def expanded(self, coverage: float = 0.95) -> float:
        """Return U at this coverage."""
        return expanded(self.u, self.dof, coverage)


def expanded(u: float, dof: float, coverage: float = 0.95) -> float:
    """Return U: t with the truncated degrees of freedom, times u (JCGM 100, G.6.4)."""
    whole = dof if np.isinf(dof) else max(np.floor(dof + 1e-9), 1.0)  # 15.999... is 16, rounded
    return float(student.ppf(0.5 + coverage / 2.0, whole)) * u


def first_order(model: Model, inputs: Sequence[Input]) -> tuple[FirstOrder, ...]:
    """Return each output of the model with its first-order uncertainty.

    Parameters
    ----------
    model : evaluated once, at all steps together
    inputs : independent of each other; components of one may correlate
    """
    refuse_namesakes(inputs)
    sizes = [entry.size for entry in inputs]
    total = sum(sizes)
    steps = np.concatenate(
        [np.zeros((total, 1)), STEP * np.eye(total), -STEP * np.eye(total)], axis=1
    )
    parts = np.split(steps, np.cumsum(sizes)[:-1])
    values = {entry.name: entry.at(part) for entry, part in zip(inputs, parts, strict=True)}
    out = np.atleast_2d(model(values))
    slopes = (out[:, 1 : total + 1] - out[:, total + 1 :]) / (2.0 * STEP)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    variances = np.add.reduceat(slopes**2, starts, axis=1)
    return tuple(
        _output(float(y), row, inputs) for y, row in zip(out[:, 0], variances, strict=True)
    )


def _output(value: float, variances: Array, inputs: Sequence[Input]) -> FirstOrder:
    total = float(variances.sum())
    named = {entry.name: float(part) for entry, part in zip(inputs, variances, strict=True)}
    return FirstOrder(value, float(np.sqrt(total)), welch_satterthwaite(variances, inputs), named)


class Evaluated(Protocol):
    """What brings a variance: an input, or a line of a budget."""

    @property
    def dof(self) -> float:
        """Return its degrees of freedom."""

    @property
    def pool(self) -> str:
        """Return the evaluation that it shares with others, empty for one of its own."""


def welch_satterthwaite(variances: Array, sources: Sequence[Evaluated]) -> float:
    """Return the effective degrees of freedom (JCGM 100, equation G.2b).

    The equation wants variances that were evaluated independently of each other, so sources of
    one pool enter it as one.

    Parameters
    ----------
    variances : (N,) array
        Each source's part of the variance.
    sources : N of them
    """
    pools: dict[str | int, list[tuple[float, float]]] = {}
    for i, (part, source) in enumerate(zip(variances, sources, strict=True)):
        pools.setdefault(source.pool or i, []).append((float(part), source.dof))
    spread = sum(
        sum(part for part, _ in pool) ** 2 / min(dof for _, dof in pool) for pool in pools.values()
    )
    return float(np.sum(variances)) ** 2 / spread if spread > 0.0 else np.inf
