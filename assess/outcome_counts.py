"""What became of a studio's piercings, counted: with intervals, beside what was measured.

A count is of the piercings of which something is noted.  It is no trial: who comes back differs
from who doesn't, and limits were not drawn by lot.

References
----------
Wilson, J Am Stat Assoc 22:209, 1927 (score interval of a proportion).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from scipy.stats import binomtest

from assess.insertion import RecordError

Became = Literal["healed", "removed", "rejected", "migrated", "infection", "lost"]
OUTCOMES: tuple[Became, ...] = ("healed", "removed", "rejected", "migrated", "infection", "lost")
ENDINGS: frozenset[Became] = frozenset({"healed", "removed", "rejected", "lost"})
"""Of these the newest counts: who was lost from sight may come back healed."""


@dataclass(frozen=True, slots=True)
class OutcomeRecord:
    """What became of one piercing, as a piercer notes it; an infection as a clinician saw it."""

    revision: int
    label: str
    on: date
    became: Became
    by: str
    note: str = ""
    clinician: str = ""

    def __post_init__(self) -> None:
        if not self.by.strip():
            raise RecordError("say who notes it")
        if self.became == "infection" and not self.clinician.strip():
            raise RecordError("say which clinician saw it: nobody here diagnoses an infection")


@dataclass(frozen=True, slots=True)
class Followed:
    """One piercing: what is noted of it, oldest first, under which limits, its channel in mm."""

    noted: tuple[Became, ...]
    limits: str
    channel_mm: float | None = None

    @property
    def counted(self) -> frozenset[Became]:
        """Return what it counts as: its newest ending, and all that happened on the way."""
        endings = [each for each in self.noted if each in ENDINGS]
        return frozenset({*(set(self.noted) - ENDINGS), *endings[-1:]})


@dataclass(frozen=True, slots=True)
class Count:
    """How many of how many, the share's 95 % interval, and the middle and ends of their channels.

    ``channels_mm`` is lowest, median, highest; None where none of them was measured.
    """

    became: Became
    count: int
    of: int
    low: float
    high: float
    channels_mm: tuple[float, float, float] | None


def wilson(count: int, of: int) -> tuple[float, float]:
    """Return the 95 % score interval of a proportion; 0 to 1 where there is nobody.

    Examples
    --------
    >>> low, high = wilson(0, 20)
    >>> round(low, 4), round(high, 4)
    (0.0, 0.1611)
    """
    if not 0 <= count <= of:
        raise ValueError(f"'count' must lie from 0 to 'of' (got {count} of {of})")
    if of == 0:
        return 0.0, 1.0
    found = binomtest(count, of).proportion_ci(0.95, method="wilson")
    return float(found.low), float(found.high)


def counts(followed: Collection[Followed]) -> tuple[Count, ...]:
    """Return each outcome's count among the piercings of which something is noted."""
    known = [each for each in followed if each.noted]
    return tuple(_count(became, known) for became in OUTCOMES)


def _count(became: Became, known: list[Followed]) -> Count:
    those = [each for each in known if became in each.counted]
    low, high = wilson(len(those), len(known))
    measured = [each.channel_mm for each in those if each.channel_mm is not None]
    span = None
    if measured:
        span = (min(measured), float(np.median(measured)), max(measured))
    return Count(became, len(those), len(known), low, high, span)


def by_limits(followed: Iterable[Followed]) -> dict[str, tuple[Followed, ...]]:
    """Return the piercings by the limits that were in force, in the order of their first."""
    found: dict[str, list[Followed]] = {}
    for each in followed:
        found.setdefault(each.limits, []).append(each)
    return {limits: tuple(those) for limits, those in found.items()}
