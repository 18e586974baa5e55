"""What became of placements: counts with intervals, beside what was measured and the limits then.

References
----------
Clopper and Pearson, Biometrika 26, 404 (1934), by quantiles of the beta distribution; from memory.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import Literal, get_args

from scipy.stats import beta

Outcome = Literal[
    "healed",
    "removed by choice",
    "rejected",
    "migrated",
    "infection seen by a clinician",
    "lost from sight",
]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)
FEW = 30
"""Under so many cases the words say first how little they tell (assumption)."""


class OutcomeError(ValueError):
    """An outcome can't be kept as it is: the message says what is lacking."""


@dataclass(frozen=True, slots=True)
class Followed:
    """One placement and what became of it.

    ``measured`` are values of its assessment by criterion (mm); ``criteria`` names the limits in
    force then.  An infection needs who saw it: a clinician, not the piercer.
    """

    placement: str
    outcome: Outcome
    on: date
    measured: tuple[tuple[str, float], ...]
    criteria: str
    seen_by: str = ""

    def __post_init__(self) -> None:
        if self.outcome not in OUTCOMES:
            raise OutcomeError(f"'outcome' must be one of {', '.join(OUTCOMES)}")
        if self.outcome == "infection seen by a clinician" and not self.seen_by.strip():
            raise OutcomeError("say which clinician or practice saw the infection")


@dataclass(frozen=True, slots=True)
class Share:
    """How many of how many, with the exact 95 % interval of the share."""

    outcome: Outcome
    count: int
    of: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Range:
    """The least, middle and greatest value that was measured, of how many placements."""

    criterion: str
    least: float
    middle: float
    greatest: float
    of: int


@dataclass(frozen=True, slots=True)
class Outcomes:
    """All outcomes under one set of limits: shares of what was seen to its end, and those lost.

    Lost from sight is no outcome of the ear, so it is a share of all and not one of the rest.
    """

    criteria: str
    shares: tuple[Share, ...]
    lost: Share
    measured: tuple[tuple[Outcome, tuple[Range, ...]], ...]

    @property
    def known(self) -> int:
        """Return how many were seen to their end."""
        return self.lost.of - self.lost.count

    @property
    def few(self) -> bool:
        """Return whether they are so few that this is said first."""
        return self.known < FEW


def interval(count: int, of: int, coverage: float = 0.95) -> tuple[float, float]:
    """Return the Clopper-Pearson interval of a share: at least its coverage, however few.

    Raises
    ------
    ValueError
        Unless 0 <= count <= of and of > 0.

    Examples
    --------
    >>> low, high = interval(0, 10)
    >>> round(low, 3), round(high, 3)
    (0.0, 0.308)
    """
    if not 0 <= count <= of or of == 0:
        raise ValueError(f"'count' must lie in 0 to 'of', which is over 0 (got {count} of {of})")
    tail = 0.5 * (1.0 - coverage)
    low = 0.0 if count == 0 else float(beta.ppf(tail, count, of - count + 1))
    high = 1.0 if count == of else float(beta.ppf(1.0 - tail, count + 1, of - count))
    return low, high


def outcomes(followed: Sequence[Followed]) -> tuple[Outcomes, ...]:
    """Return the outcomes, each set of limits by itself: cases under others don't add up."""
    sets = dict.fromkeys(case.criteria for case in followed)
    return tuple(_under(name, [c for c in followed if c.criteria == name]) for name in sets)


def _under(criteria: str, cases: Sequence[Followed]) -> Outcomes:
    counts = Counter(case.outcome for case in cases)
    lost = counts["lost from sight"]
    known = len(cases) - lost
    shares = tuple(
        Share(outcome, counts[outcome], known, *interval(counts[outcome], known))
        for outcome in OUTCOMES
        if outcome != "lost from sight" and known
    )
    measured = tuple(
        (outcome, _ranges([c for c in cases if c.outcome == outcome]))
        for outcome in OUTCOMES
        if counts[outcome]
    )
    gone = Share("lost from sight", lost, len(cases), *interval(lost, len(cases)))
    return Outcomes(criteria, shares, gone, measured)


def _ranges(cases: Sequence[Followed]) -> tuple[Range, ...]:
    values: dict[str, list[float]] = {}
    for case in cases:
        for criterion, value in case.measured:
            values.setdefault(criterion, []).append(value)
    return tuple(
        Range(name, min(found), median(found), max(found), len(found))
        for name, found in values.items()
    )
