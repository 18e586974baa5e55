"""What a further measurement would tell, before it is made: preposterior analysis.

Today's draws are the prior.  A further reading r of a quantity q with standard uncertainty u
would weigh each draw by the normal density of r about its q (Bayes' rule); what it might read
has the density of q's draws blurred by u.  Going through all r on a grid gives what is then
believed and how probably: no more random numbers, and exact but for the bins where the draws
are.

References
----------
JCGM 106:2012, 6 (what is known after a measurement), 9.5 (global risks before one is made).
H. Raiffa and R. Schlaifer, Applied Statistical Decision Theory, 1961 (preposterior analysis;
from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array

BINS, READINGS = 256, 401
REACH = 6.0
"""Draws farther from the mean than so many standard deviations count with the outermost bin."""


@dataclass(frozen=True, slots=True)
class Belief:
    """What is believed of a quantity, and of what goes with it.

    ``at`` (B,) are places of the quantity, ``mass`` (B,) how probable each is (sum 1), ``sums``
    (B, F) the means of F features there, times ``mass``.
    """

    at: Array
    mass: Array
    sums: Array

    @classmethod
    def of(cls, quantity: Array, features: Array) -> Belief:
        """Return draws as a belief in bins.

        Parameters
        ----------
        quantity : (M,) array
        features : (M, F) array
            Of the same draws: whether a criterion holds (0 or 1), a value, its square.
        """
        middle, spread = float(quantity.mean()), float(quantity.std())
        if spread <= 0.0:
            raise ValueError("'quantity' must vary (got draws that are all the same)")
        edges = np.linspace(middle - REACH * spread, middle + REACH * spread, BINS + 1)
        width = edges[1] - edges[0]
        bins = np.clip(((quantity - edges[0]) / width).astype(np.int64), 0, BINS - 1)
        count = np.bincount(bins, minlength=BINS)
        columns = [np.bincount(bins, column, minlength=BINS) for column in features.T]
        sums = np.stack(columns, axis=-1) / quantity.size
        return cls((edges[:-1] + edges[1:]) / 2, count / quantity.size, sums)


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What a reading may say: ``reading`` (K,), its ``chance`` (K,), features then (K, F)."""

    reading: Array
    chance: Array
    means: Array


def foresee(belief: Belief, u: float, readings: int = READINGS) -> Foreseen:
    """Return what is believed after a reading of standard uncertainty ``u``, for each reading.

    The mean of each feature over all readings is what it is today: a measurement not yet made
    moves nobody's expectation.
    """
    if u <= 0.0:
        raise ValueError(f"'u' must be over 0 (got {u})")
    there = belief.at[belief.mass > 0.0]
    reading = np.linspace(there.min() - 5.0 * u, there.max() + 5.0 * u, readings)
    density = np.exp(-0.5 * ((reading[:, None] - belief.at) / u) ** 2)
    chance = density @ belief.mass
    means = (density @ belief.sums) / np.maximum(chance, np.finfo(float).tiny)[:, None]
    return Foreseen(reading, chance / chance.sum(), means)


@dataclass(frozen=True, slots=True)
class Risks:
    """Global risks: how probably one will say yes and be wrong, or no and be wrong."""

    wrong_yes: float
    wrong_no: float


def global_risks(
    chance: Array, holds: Array, yes: NDArray[np.bool_], no: NDArray[np.bool_]
) -> Risks:
    """Return the global consumer's and producer's risk of a decision not yet made.

    Parameters
    ----------
    chance : (K,) array, summing to 1
        How probable each reading is.
    holds : (K,) array
        Probability after each reading that the criteria hold.
    yes, no : (K,) arrays
        What each reading would lead to; where neither, it stays undecided.
    """
    wrong_yes = float(chance @ (yes * (1.0 - holds)))
    return Risks(wrong_yes, float(chance @ (no * holds)))
