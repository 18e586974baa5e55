"""Whether the dots show the card to have moved further than was told.

A card slips once: it stands in one way in some photos and in another in the rest.  The test of all
marks together hardly notices, for what many photos may move hides the one way in which they did.
So one or two photos are held against the rest, each such pair of groups in turn: the difference
of their shifts as it was solved, over what it may be by what was told.

References
----------
A linear problem's estimate of a quantity with a Gaussian prior varies by the prior's covariance
less the posterior one's (the law of total variance).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from scipy.stats import chi2

from calibration.adjust import Adjusted
from calibration.frames import Array

ALPHA = 0.001
"""A movement this improbable by what was told, over all pairs of groups, contradicts it."""
SHOWN = 0.05
"""Along a direction in which the dots take away less of the told variance they tell nothing."""


def moved_further(found: Adjusted) -> bool:
    """Return whether the dots contradict what was told of the card's movement."""
    problem = found.problem
    if not problem.moving:
        return False
    shifts = np.array([problem.move_columns(i)[3:] for i in range(len(problem.photos))])
    groups = list(_groups(len(shifts)))
    told = float(problem.move_sigmas()[3]) ** 2
    known = found.covariance[np.ix_(shifts.ravel(), shifts.ravel())]
    chances = []
    for weights in groups:
        by_shift = np.kron(weights, np.eye(3))
        gap = by_shift @ found.x[shifts.ravel()]
        prior = told * float(weights @ weights)
        chances.append(_chance(gap, prior, by_shift @ known @ by_shift.T))
    return min(chances, default=1.0) * len(groups) < ALPHA


def _groups(photos: int) -> Iterator[Array]:
    """Yield weights, (N,), that take the mean of some photos from the mean of the others."""
    seen = set[frozenset[int]]()
    for size in (1, 2):
        for some in combinations(range(photos), size):
            rest = frozenset(range(photos)) - set(some)
            if rest and rest not in seen:
                seen.add(frozenset(some))
                own = np.isin(np.arange(photos), some)
                yield np.where(own, 1.0 / size, -1.0 / len(rest))


def _chance(gap: Array, prior: float, posterior: Array) -> float:
    """Return how probable so large a difference is, along the directions that the dots show."""
    varies, ways = np.linalg.eigh(prior * np.eye(len(gap)) - posterior)
    shown = varies > SHOWN * prior
    if not shown.any():
        return 1.0
    along = ways[:, shown].T @ gap
    return float(chi2.sf(np.sum(along**2 / varies[shown]), int(shown.sum())))
