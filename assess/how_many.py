"""How many posts this rim supports together, and why not one more."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from assess.criteria import Criteria
from assess.grouping import ENOUGH, NoLayout, Proposal, Rim, capacity, propose
from assess.plan import MOST, Spacing
from assess.spacing import Needs
from assess.together import Together, planned_together
from assess.verdict import Tissue
from calibration.draws import Draws
from calibration.frames import Array

Why = Literal["length", "earlier", "ends", "room", "together", "five"]
"""What rules it: the rim's thickness along too short a stretch, what was pierced before, how wide
the ends are, the least spacing on the usable stretch, too little certainty of all together, or
that five is the most that is planned."""


@dataclass(frozen=True, slots=True)
class HowMany:
    """How many posts the rim carries together, the layout, and what rules it.

    ``usable_mm`` are the stretches in which one post alone is sure enough, mm of arc.
    ``without`` is how many there would be room for if that reason didn't hold.
    """

    count: int
    layout: Proposal | None
    joint: Together | None
    usable_mm: tuple[tuple[float, float], ...]
    why: Why
    without: int
    one_more: Together | None
    """One post more together, where there is room for it."""
    tissue: Tissue
    cover_measured: bool

    @property
    def settled(self) -> bool:
        """Return whether hands and calipers allow the number to be called supported."""
        return self.tissue == "firm" and self.cover_measured


def how_many(
    rim: Rim,
    criteria: Criteria,
    draws: Draws,
    *,
    spacing: Spacing = "free",
    tissue: Tissue = "not_examined",
    cover_mm: Array | None = None,
) -> HowMany:
    """Return the largest number whose best layout keeps all limits with the studio's probability.

    Parameters
    ----------
    rim : with needs and what was pierced before
    criteria : the studio's limits and its probability for a yes
    spacing : which layouts count
    tissue : how firmly the rim holds, by the piercer's hands
    cover_mm : (M,) draws of the least tissue beside a post, by calipers; None: not measured
    """

    def joint_of(layout: Proposal) -> Together:
        return planned_together(
            layout.plan,
            rim.curve,
            rim.view,
            criteria,
            draws,
            needs=rim.needs,
            earlier=rim.earlier,
            tissue=tissue,
            cover_mm=cover_mm,
        )

    found, more = _search(rim, spacing, joint_of, criteria.rule.supports_from)
    why, without = _why(rim, len(found), more)
    layout_, joint_ = found[-1] if found else (None, None)
    return HowMany(
        len(found),
        layout_,
        joint_,
        rim.profile.stretches(ENOUGH),
        why,
        without,
        more,
        tissue,
        cover_mm is not None,
    )


def _search(
    rim: Rim, spacing: Spacing, joint_of: Callable[[Proposal], Together], enough: float
) -> tuple[list[tuple[Proposal, Together]], Together | None]:
    """Return the layouts of one, two and more posts that are probable enough, and the next one."""
    found: list[tuple[Proposal, Together]] = []
    for count in range(1, MOST + 1):
        layout = propose(rim, count, spacing)
        if isinstance(layout, NoLayout):
            return found, None
        joint = joint_of(layout)
        if (joint.probability or 0.0) < enough:
            return found, joint
        found.append((layout, joint))
    return found, None


def _why(rim: Rim, count: int, more: Together | None) -> tuple[Why, int]:
    """Return what rules the number, found by taking one reason away after the other."""
    if count >= MOST:
        return "five", MOST
    if more is not None:
        return "together", capacity(rim, 0.0)
    for why, other in _freed(rim):
        room = capacity(other, 0.0)
        if room > count:
            return why, room
    apart = replace(rim, earlier=(), needs=Needs(replace(rim.needs.spacing, low=0.0), 0.0))
    room = capacity(replace(apart, ends_mm=(0.0, 0.0)), 0.0)
    return ("room" if room > count else "length"), room


def _freed(rim: Rim) -> Sequence[tuple[Why, Rim]]:
    freed: list[tuple[Why, Rim]] = []
    if rim.earlier:
        freed.append(("earlier", replace(rim, earlier=())))
    axes = rim.needs.axes_mm - rim.needs.gap_mm
    if max(rim.ends_mm) > axes:  # wider ends than the spacing alone asks for
        narrow = (min(axes, rim.ends_mm[0]), min(axes, rim.ends_mm[1]))
        freed.append(("ends", replace(rim, ends_mm=narrow)))
    return freed
