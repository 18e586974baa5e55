"""The cheapest way along a strip: dynamic programming, one place across for each place along."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calibration.frames import Array


def cheapest(cost: Array, bend_cost: float, reach: int = 2) -> NDArray[np.int64]:
    """Return the column of the cheapest way through a strip, (S,) int.

    Parameters
    ----------
    cost : (S, O) array
        Of each place.
    bend_cost : float
        Of a step of one column from a row to the next; it grows with the square.
    reach : int
        The largest such step.

    References
    ----------
    Amini, Weymouth and Jain, Using dynamic programming for solving variational problems in
    vision, IEEE PAMI 12(9):855-867, 1990 (from memory).
    """
    rows, columns = cost.shape
    steps = np.arange(-reach, reach + 1)
    price = bend_cost * steps.astype(np.float64) ** 2
    came = np.zeros((rows, columns), dtype=np.int8)
    total = cost[0].astype(np.float64)
    index = np.arange(columns)
    for row in range(1, rows):
        padded = np.pad(total, reach, constant_values=np.inf)
        from_ = np.stack([padded[reach + s : reach + s + columns] for s in steps])
        from_ += price[:, None]
        best = from_.argmin(axis=0)
        came[row] = steps[best]
        total = from_[best, index] + cost[row]
    way = np.empty(rows, dtype=np.int64)
    way[-1] = int(total.argmin())
    for row in range(rows - 1, 0, -1):
        way[row - 1] = way[row] + came[row, way[row]]
    return way
