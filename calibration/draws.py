"""Draws by name: the same input gives the same draws wherever it enters.

Lengths that share an input (a scale, a pose, an offset) are thereby combined by name and
correlate as they should.

References
----------
JCGM 101:2008, 5.1.3 and 6.4 (drawing from the assigned distributions).
"""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

import numpy as np

from calibration.frames import Array


@dataclass(frozen=True, slots=True)
class Draws:
    """Where draws come from: a seed and how many."""

    seed: int
    count: int

    def _generator(self, name: str) -> np.random.Generator:
        digest = sha256(name.encode()).digest()
        words = [int.from_bytes(digest[i : i + 4], "big") for i in (0, 4, 8)]
        return np.random.default_rng([self.seed, *words])

    def normal(self, name: str, size: int | None = None) -> Array:
        """Return standard normal draws of the input called ``name``.

        Parameters
        ----------
        name : str
        size : int, optional
            Components of the input.

        Returns
        -------
        (count,) or (count, size) array, unit 1
        """
        shape = self.count if size is None else (self.count, size)
        return self._generator(name).standard_normal(shape)

    def student_t(self, name: str, dof: float) -> Array:
        """Return draws of a t distribution (unscaled) with ``dof`` degrees of freedom."""
        return self._generator(name).standard_t(dof, self.count)
