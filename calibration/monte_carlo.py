"""Propagation of distributions by Monte Carlo, with a fixed number of draws or as many as needed.

References
----------
JCGM 101:2008, 7.2 to 7.7 (the procedure), 7.9 (adaptive).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from calibration.draws import Draws
from calibration.first_order import Model
from calibration.frames import Array
from calibration.inputs import Input, refuse_namesakes
from calibration.quantity import Quantity

CHUNK = 25_000
"""Draws that the model takes at once, so that its intermediates stay in the processor's cache."""

LEAST_BATCH, LEAST_BATCHES = 10_000, 10
"""7.9.4 may stop at two batches; their scatter, from one degree of freedom, is often luck."""


def propagate(model: Model, inputs: Sequence[Input], draws: Draws) -> Array:
    """Return the outputs' draws, (Q, M)."""
    refuse_namesakes(inputs)
    drawn = {entry.name: entry.draw(draws) for entry in inputs}
    parts = [
        np.atleast_2d(model({name: values[:, at : at + CHUNK] for name, values in drawn.items()}))
        for at in range(0, draws.count, CHUNK)
    ]
    return np.concatenate(parts, axis=1)


@dataclass(frozen=True, slots=True)
class Adaptive:
    """What the adaptive procedure found, and the scatter of its batches' averages."""

    quantity: Quantity
    draws: int
    tolerance: float
    scatter: tuple[float, float, float, float]
    """Standard deviations of the averages of value, u, low and high over the batches."""
    settled: bool
    """Whether twice each of them lies within the tolerance."""


def tolerance(u: float, digits: int) -> float:
    """Return the numerical tolerance of u with so many significant digits (7.9.2)."""
    if u <= 0.0:
        return 0.0
    _, exponent = f"{u:.{digits - 1}e}".split("e")  # of u rounded: 0.0997 counts as 0.10
    return 0.5 * 10.0 ** (int(exponent) - digits + 1)


def _sd_of_all(rows: Array, size: int) -> float:
    """Return the standard deviation of all draws from each batch's mean and u, rows 0 and 1."""
    within = (size - 1) * np.sum(rows[:, 1] ** 2)
    between = size * np.sum((rows[:, 0] - rows[:, 0].mean()) ** 2)
    return float(np.sqrt((within + between) / (size * len(rows) - 1)))


def adaptive(
    model: Model,
    inputs: Sequence[Input],
    draws: Draws,
    *,
    digits: int = 2,
    unit: str = "mm",
    most: int = 200,
) -> Adaptive:
    """Return the model's one output by batches, until it is stable to ``digits`` of u (7.9.4).

    At least ten batches are made, where the standard may stop at two.

    Parameters
    ----------
    model, inputs : with one output
    draws : Draws
        Seed and visit; ``count`` draws a batch, at least 10,000.
    digits : significant digits of u regarded as meaningful
    unit : of the output
    most : batches after which it gives up, at least 2
    """
    size = max(draws.count, LEAST_BATCH)
    found: list[Array] = []
    rows: list[tuple[float, float, float, float]] = []
    scatter, aim = np.full(4, np.inf), 0.0
    for batch in range(1, most + 1):
        (values,) = propagate(model, inputs, replace(draws, count=size, batch=batch))
        found.append(values)
        one = Quantity.from_draws(values, unit)
        rows.append((one.value, one.u, one.low, one.high))
        if batch < min(LEAST_BATCHES, most):
            continue
        scatter = np.std(rows, axis=0, ddof=1) / np.sqrt(batch)
        aim = tolerance(_sd_of_all(np.array(rows), size), digits)
        if bool((2.0 * scatter <= aim).all()):
            break
    y, u, low, high = (float(v) for v in scatter)
    settled = bool((2.0 * scatter <= aim).all())
    whole = Quantity.from_draws(np.concatenate(found), unit)
    return Adaptive(whole, size * len(rows), aim, (y, u, low, high), settled)
