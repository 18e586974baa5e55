"""Whether the pen dots of several photos fit together and, if not, what is the matter.

The test is a chi-squared one on what the marks add to the cards' own residuals, and one for each
point.  Where it fails, single causes are tried in turn, each as a problem of its own: one point
marked wrong, one photo that belongs to another ear, the marks of two photos exchanged, a card
that moved more than told.  The cause under which the marks are most probable is named.

References
----------
JCGM 102:2011 has no test; the point's test is the outlier test of the adjustment of observations
for a group of them (Baarda's, in its form for several observations at once): the drop of the
squared residuals when the group is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np
from scipy.stats import chi2

from calibration.adjust import Adjusted
from calibration.frames import Array
from calibration.joint_problem import Problem
from calibration.view_photo import ViewPhoto

ALPHA = 0.001
"""A misfit this improbable or less is a fault: of one point, or of all together."""
ANYWHERE_PX, ANYWHERE_MM = 3500.0, 200.0
"""Where a mark may lie that a cause doesn't explain, and a dot of which nothing is known."""
LOOSE_MM = 2.0
"""How far a card may have moved that moved more than told (standard deviation, assumed)."""
MOST_TRIED = 7
"""How many causes are looked at closely."""
CLEAR = 6.0
"""A cause is named alone if the next is less probable by this much (twice the log)."""

Solve = Callable[[Problem], Adjusted | None]
Kind = Literal["point", "photo", "swapped", "moved"]


@dataclass(frozen=True, slots=True)
class Cause:
    """What would explain a misfit: its kind, the names concerned, the problem it makes."""

    kind: Kind
    names: tuple[str, ...]
    problem: Problem


@dataclass(frozen=True, slots=True)
class Explained:
    """A cause with its solution and how improbable it leaves the marks (twice a negative log)."""

    cause: Cause
    found: Adjusted
    surprise: float


def misfit(found: Adjusted, alone: float) -> tuple[float, int]:
    """Return what the dots add to the squared residuals, in sigmas, and how many may add it.

    Parameters
    ----------
    found : the adjustment with dots
    alone : the cost of the same photos without any
    """
    points = set(found.problem.points)
    seen = sum(len(points & set(photo.marks)) for photo in found.problem.photos)
    return max(found.cost - alone, 0.0), 2 * seen - 3 * len(points)


def fits(found: Adjusted, alone: float) -> bool:
    """Return whether the dots fit together: all of them, and each point."""
    gap, free = misfit(found, alone)
    if free > 0 and chi2.sf(gap, free) < ALPHA:
        return False
    return all(p >= ALPHA for p in point_chances(found).values())


def point_chances(found: Adjusted) -> dict[str, float]:
    """Return for each point how probably its rays miss this much or more by chance."""
    chances = {}
    for point in found.problem.points:
        own = [b for b in found.blocks if b.kind == f"mark of {point}"]
        rows = sum(len(block.residual) for block in own)
        free = rows - 3
        if free <= 0:
            chances[point] = 1.0
            continue
        slope = np.zeros((rows, found.problem.size))
        for k, block in enumerate(own):
            slope[2 * k : 2 * k + 2, block.columns] = block.slope
        residual = np.concatenate([block.residual for block in own])
        left = np.eye(rows) - slope @ found.covariance @ slope.T
        chances[point] = float(chi2.sf(_quadratic(left, residual, free), free))
    return chances


def _quadratic(covariance: Array, residual: Array, rank: int) -> float:
    """Return residual² over its covariance, by the ``rank`` directions that it has."""
    values, vectors = np.linalg.eigh(covariance)
    values, vectors = values[-rank:], vectors[:, -rank:]
    along = vectors.T @ residual
    return float(np.sum(along**2 / np.maximum(values, 1e-9)))


def surprise(found: Adjusted, marks: int) -> float:
    """Return twice the negative log of how probable all marks are, all unknowns summed out.

    A mark that the problem leaves out may lie anywhere in its photo, and a dot anywhere near the
    ear.  Up to what is the same for every cause: the corners.

    Parameters
    ----------
    found : the adjustment under a cause
    marks : how many marks there are, also those that the cause leaves out
    """
    problem, points = found.problem, set(found.problem.points)
    u_px = [
        mark.weighed_px
        for photo in problem.photos
        for name, mark in photo.marks.items()
        if name in points
    ]
    total = found.cost + 2.0 * float(np.sum(np.log(2.0 * np.pi * np.square(u_px))))
    total += 4.0 * (marks - len(u_px)) * float(np.log(ANYWHERE_PX))
    total += len(points) * float(6.0 * np.log(ANYWHERE_MM) - 3.0 * np.log(2.0 * np.pi))
    if problem.moving:
        total += 2.0 * len(problem.photos) * float(np.log(problem.move_sigmas()).sum())
    return total - float(np.linalg.slogdet(found.covariance)[1])


def causes(problem: Problem) -> Iterator[Cause]:
    """Yield each single cause that could be the matter, with the problem that it makes."""
    for point in problem.points:
        kept = tuple(name for name in problem.points if name != point)
        yield Cause("point", (point,), replace(problem, points=kept))
    for photo in problem.photos:
        if photo.marks:
            bare = (own.with_marks({}) if own is photo else own for own in problem.photos)
            yield Cause("photo", (photo.name,), _seen_twice(problem, bare))
    for first, second in combinations(problem.photos, 2):
        marks = {first.name: second.marks, second.name: first.marks}
        turned = (own.with_marks(marks.get(own.name, own.marks)) for own in problem.photos)
        yield Cause("swapped", (first.name, second.name), _seen_twice(problem, turned))
    if problem.u_shift_mm < LOOSE_MM:
        yield Cause("moved", (), replace(problem, u_shift_mm=LOOSE_MM))


def _seen_twice(problem: Problem, photos: Iterable[ViewPhoto]) -> Problem:
    """Return the problem with other photos, of those dots that still two of them show."""
    own = tuple(photos)
    kept = (n for n in problem.points if sum(n in photo.marks for photo in own) > 1)
    return replace(problem, photos=own, points=tuple(kept))


def explain(problem: Problem, solve: Solve, begin: Callable[[Problem], float]) -> list[Explained]:
    """Return the causes that can be solved, the most probable first.

    Only those are solved under which the dots nearly meet before anything is adjusted, and that
    of a card that moved, under which they don't.

    Parameters
    ----------
    problem : the one whose dots don't fit together
    solve : adjusts a problem
    begin : squared residuals of a problem where its adjustment begins
    """
    points = set(problem.points)
    marks = sum(len(points & set(photo.marks)) for photo in problem.photos)
    able = [cause for cause in causes(problem) if cause.problem.points]
    able.sort(key=lambda cause: (cause.kind != "moved", begin(cause.problem)))
    found = []
    for cause in able[:MOST_TRIED]:
        solved = solve(cause.problem)
        if solved is not None:
            found.append(Explained(cause, solved, surprise(solved, marks)))
    return sorted(found, key=lambda explained: explained.surprise)
