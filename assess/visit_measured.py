"""What was measured at a visit, as it is kept with it: marked photos, changes, downsizing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from assess.downsizing import Downsizing
from assess.posts import NoPost
from assess.recheck_series import Point
from assess.result_parts import QuantityOut

By = Literal["calipers", "marks"]


@dataclass(frozen=True, slots=True)
class MarkedSet:
    """Photos of one day with the post in, and their marks (``rimspan-marks/1``).

    ``photos``: file to hash; ``marked_on`` and ``marked_by`` when and by whom they were marked.
    """

    on: date
    marked_on: date
    marked_by: str
    marks: dict[str, Any]
    photos: dict[str, str]
    after_insertion: bool = False

    @property
    def marked_later(self) -> bool:
        """Return whether it was marked on a later day than it was taken."""
        return self.marked_on > self.on


@dataclass(frozen=True, slots=True)
class Recheck:
    """Today's marked photos, what they were held against, and what was found.

    ``found`` is ``rimspan-recheck/1``, None where there was nothing to compare with; ``points``
    what is followed over the visits; ``swollen`` whether the channel as seen is measurably longer.
    """

    now: MarkedSet
    baseline: MarkedSet | None = None
    found: dict[str, Any] | None = None
    points: tuple[Point, ...] = ()
    swollen: bool = False

    @property
    def hashes(self) -> tuple[str, ...]:
        """Return the hashes of today's photos."""
        return tuple(self.now.photos.values())

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return what was said."""
        posts = [] if self.found is None else self.found["posts"]
        return tuple(str(line) for post in posts for line in post["sentences"])


@dataclass(frozen=True, slots=True)
class Downsized:
    """The channel on the day of the shorter post, by what, and the lengths side by side (mm)."""

    by: By
    channel: QuantityOut
    planned_mm: float | None
    from_stock_mm: float | None
    waits: bool
    sentences: tuple[str, ...] = ()


def downsized(found: Downsizing, by: By, sentences: tuple[str, ...]) -> Downsized:
    """Return a downsizing as it is kept."""
    chosen = None if isinstance(found.choice, NoPost) else found.choice.length_mm
    return Downsized(
        by, QuantityOut.of(found.channel), found.planned_mm, chosen, found.waits, sentences
    )
