"""A measured value with its uncertainty, taken from draws.

References
----------
JCGM 101:2008, 7.6 (estimate and standard uncertainty from the draws) and 7.7
(probabilistically symmetric coverage interval).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array


@dataclass(frozen=True, slots=True)
class Quantity:
    """Mean of the draws, their standard deviation and their 95 % interval, in ``unit``."""

    value: float
    u: float
    low: float
    high: float
    unit: str

    @classmethod
    def from_draws(cls, draws: Array, unit: str) -> Quantity:
        """Return the quantity that the draws describe.

        Parameters
        ----------
        draws : (M,) array in ``unit``
        unit : str
            ``"mm"`` or ``"deg"``.

        Raises
        ------
        ValueError
            If there are fewer than two draws or one of them is not finite.
        """
        if draws.size < 2 or not bool(np.isfinite(draws).all()):
            raise ValueError(f"'draws' must be at least 2 finite numbers (got {draws.size})")
        low, high = np.quantile(draws, [0.025, 0.975])
        return cls(float(draws.mean()), float(draws.std(ddof=1)), float(low), float(high), unit)
