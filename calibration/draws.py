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
    """Where draws come from: a seed, how many, and of which visit and batch.

    Two visits of one client share only what their inputs say they share; two batches share
    nothing.
    """

    seed: int
    count: int
    visit: str = ""
    batch: int = 0

    def generator(self, name: str, *, shared: bool = False) -> np.random.Generator:
        """Return the random numbers of the input called ``name``.

        Parameters
        ----------
        name : str
        shared : bool
            Whether it is the same input at every visit, as the print of a card is.
        """
        own = name if shared or not self.visit else f"{self.visit}\0{name}"
        digest = sha256(own.encode()).digest()
        words = [int.from_bytes(digest[i : i + 4], "big") for i in (0, 4, 8)]
        return np.random.default_rng([self.seed, *words, *([self.batch] if self.batch else [])])

    def normal(self, name: str, size: int | None = None) -> Array:
        """Return standard normal draws of the input called ``name``.

        Parameters
        ----------
        name : str
        size : int, optional
            Components of the input; more of them leave the first ones as they were.

        Returns
        -------
        (count,) or (count, size) array, unit 1
        """
        shape = self.count if size is None else (size, self.count)
        return self.generator(name).standard_normal(shape).T

    def student_t(self, name: str, dof: float) -> Array:
        """Return draws of a t distribution (unscaled) with ``dof`` degrees of freedom."""
        return self.generator(name).standard_t(dof, self.count)
