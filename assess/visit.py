"""The second visit: what comes first, and what a visit may do with the post.

What the piercer sees comes before any number.  An end that sinks into the skin, or a post with no
spare length left, is for a longer post the same day, whatever the plan's dates say.  Signs of
infection are for licensed medical care the same day, and then nothing here speaks of taking the
post out.  Nothing here is a diagnosis.  All of this is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

import numpy as np

from calibration.frames import Array

Sign = Literal[
    "end sinking in",
    "no spare length",
    "swollen",
    "spreading redness",
    "pus",
    "fever",
    "growing pain",
    "skin closes over an end",
]
INFECTION: frozenset[Sign] = frozenset({"spreading redness", "pus", "fever", "growing pain"})
"""Signs for licensed medical care the same day (the list is that of the client's sheet)."""
NO_ROOM: frozenset[Sign] = frozenset(
    {"end sinking in", "no spare length", "skin closes over an end"}
)

Act = Literal["lengthen", "keep", "shorten", "remove"]
First = Literal["care today", "longer post today", "downsizing waits", "no hurry"]

NO_SPARE_FROM = 0.5
"""A post counts as without spare length from this probability on that it has none (assumption)."""


@dataclass(frozen=True, slots=True)
class FirstThings:
    """What comes first, in order, and what the visit may do; never empty.

    ``may`` leaves out what doesn't go with it.  The piercer decides.
    """

    first: tuple[First, ...]
    may: tuple[Act, ...]
    signs: tuple[Sign, ...]

    @property
    def same_day(self) -> bool:
        """Return whether something is for the same day."""
        return self.first[0] in {"care today", "longer post today"}


def no_spare_probability(post_mm: float, channel_mm: Array) -> float:
    """Return how probably a post has no spare length: the share of the channel's draws, (M,) mm."""
    return float(np.mean(channel_mm >= post_mm))


def first_things(
    signs: Collection[Sign], no_spare: float | None = None, *, outgrown: bool = False
) -> FirstThings:
    """Return what comes first at a visit.

    Parameters
    ----------
    signs : what the piercer sees or the client tells
    no_spare : how probably the post has no spare length by measurement, if that is known
    outgrown : whether client or piercer want it out: only then removing is among what may be
    """
    found = set(signs)
    if no_spare is not None and no_spare >= NO_SPARE_FROM:
        found.add("no spare length")
    ill = bool(found & INFECTION) or "skin closes over an end" in found
    tight, swollen = bool(found & NO_ROOM), "swollen" in found
    first: list[First] = []
    if ill:
        first.append("care today")
    if tight:
        first.append("longer post today")
    if swollen or tight or ill:
        first.append("downsizing waits")
    may: list[Act] = ["lengthen", "keep"]
    if tight:
        may = ["lengthen"] if not ill else ["lengthen", "keep"]
    elif not swollen and not ill:
        may = ["lengthen", "keep", "shorten"]
    if outgrown and not ill:
        may.append("remove")
    return FirstThings(tuple(first) or ("no hurry",), tuple(may), tuple(sorted(found)))
