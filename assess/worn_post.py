"""A post as it is worn, at first and after downsizing: what stands out, what room is left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.ends import End, RoomNeeds, exposed_mm, leverage, room_below
from calibration.frames import Array
from calibration.quantity import Quantity

When = Literal["now", "downsized"]


@dataclass(frozen=True, slots=True)
class WornPost:
    """One post in one channel at one time.

    ``each_side`` is what stands out above and below if the post stands in the middle; ``most``
    what stands out on one side if it slid there.  ``arm`` is the longest arm outside over half the
    channel.  ``room_worn`` and ``room_pierced`` are what is left below, None where the next
    structure isn't marked; ``fits`` how probably both are at least 0.
    """

    when: When
    length_mm: float
    each_side: Quantity
    most: Quantity
    arm: float
    presses: float
    """How probably the ends press, there being no spare length at all."""
    room_worn: Quantity | None
    room_pierced: Quantity | None
    fits: float | None


def worn_post(
    when: When,
    length_mm: float,
    channel_mm: Array,
    ends: tuple[End, End],
    room_mm: Array | None = None,
    needs: RoomNeeds = RoomNeeds(),  # noqa: B008  (frozen)
) -> WornPost:
    """Return what a post of this length does in a channel.

    Parameters
    ----------
    when : at first, or after downsizing, when there is no swelling and no needle any more
    length_mm : between the ends
    channel_mm : (M,) draws
    ends : upper and lower
    room_mm : (M,) draws from the exit to the next structure
    needs : of the room, besides the end
    """
    spare = length_mm - channel_mm
    half, _ = exposed_mm(spare)
    most, _ = exposed_mm(spare, 1.0)
    longest = max(ends, key=lambda end: end.height_mm)
    arm = float(leverage(most, longest, channel_mm).mean())
    worn = pierced = fits = None
    if room_mm is not None:
        later = RoomNeeds(0.0, 0.0, 0.0, needs.basis)
        # All of the spare length may stand below.
        left = room_below(room_mm, most, ends[1], needs if when == "now" else later)
        holds = left.worn_mm >= 0.0
        worn = Quantity.from_draws(left.worn_mm, "mm")
        if when == "now":
            holds &= left.pierced_mm >= 0.0
            pierced = Quantity.from_draws(left.pierced_mm, "mm")
        fits = float(np.mean(holds))
    return WornPost(
        when,
        length_mm,
        Quantity.from_draws(half, "mm"),
        Quantity.from_draws(most, "mm"),
        arm,
        float(np.mean(spare < 0.0)),
        worn,
        pierced,
        fits,
    )
