"""Which shorter post now: what was planned, what is measured today, what stock has for it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from assess.criteria import Criteria
from assess.marks import PostStock
from assess.posts import NoPost, PostChoice, choose_post
from assess.visit_signs import Asks
from calibration.frames import Array
from calibration.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Downsizing:
    """Lengths side by side: planned before, the channel as measured now, the choice from stock.

    ``waits`` while something comes first; the choice is told all the same, for ordering.
    """

    worn_mm: float | None
    planned_mm: float | None
    channel: Quantity
    choice: PostChoice | NoPost
    waits: bool

    @property
    def shorter(self) -> bool | None:
        """Return whether the choice is shorter than what is worn; None where either isn't known."""
        if self.worn_mm is None or isinstance(self.choice, NoPost):
            return None
        return self.choice.length_mm < self.worn_mm

    @property
    def as_planned(self) -> bool | None:
        """Return whether today's choice is the length that was planned; None where unknown."""
        if self.planned_mm is None or isinstance(self.choice, NoPost):
            return None
        return abs(self.choice.length_mm - self.planned_mm) < 0.01


def downsizing(
    channel_mm: Array,
    stock: Iterable[PostStock],
    criteria: Criteria,
    asks: Collection[Asks],
    *,
    worn_mm: float | None = None,
    planned_mm: float | None = None,
) -> Downsizing:
    """Return which length leaves the spare length that is wanted after downsizing.

    Parameters
    ----------
    channel_mm : (M,) draws of the channel, measured at this visit
    stock : posts by gauge
    criteria : whose ``spare_downsized`` and ``post`` count
    asks : what the signs that are seen ask for first
    worn_mm, planned_mm : the post that is in, and the length planned at the beginning
    """
    limits = criteria.limits
    choice = choose_post(channel_mm, stock, limits["spare_downsized"], limits["post"])
    channel = Quantity.from_draws(channel_mm, "mm")
    return Downsizing(worn_mm, planned_mm, channel, choice, waits=bool(asks))
