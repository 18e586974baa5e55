"""Which photo to take next, what it brings, which dots still lack a second one: in words."""

from __future__ import annotations

from assess.space_wording import listed, point_words
from assess.view_guide import Guide, Sight

SQUARE_ON = "Begin square-on: hold the phone level with the ear, straight before the card."
HEADBAND = "The card is on a headband: it can't move against the ear"
STRAIGHT = (
    "So far the phone went straight up and down. A photo from behind the ear and one from the face "
    "side, 40 to 50° to the side, tell much more."
)
MOVE = "Move the phone, not the head; the client sits still."
ONCE_IN_ALL = 4
"""So many dots that lack a second photo are named; more are counted."""


def way_words(sight: Sight) -> str:
    """Return from where a photo is to be taken."""
    rise, aside = round(sight.rise_deg), round(sight.aside_deg)
    up = "level" if not rise else f"from {'above' if rise > 0 else 'below'}, about {abs(rise)}°"
    if not aside:
        return up
    return f"{up}, and a step to the {'right' if aside > 0 else 'left'}, about {abs(aside)}°"


def next_words(guide: Guide) -> str:
    """Return which photo to take next."""
    if not guide.taken:
        return SQUARE_ON
    if guide.next is None:
        return "No other photo would bring much more."
    return f"Next photo: {way_words(guide.next)}."


def gain_words(guide: Guide) -> str:
    """Return what the channel is known to now, and with the next photo."""
    if not guide.taken:
        return ""
    hand, snapped = guide.u_mm
    then_hand, then_snapped = guide.next_u_mm
    if then_hand is None or then_snapped is None:
        return "The channel can't be told in space yet: entry and exit need two photos each."
    if guide.next is None:
        return (
            f"Foreseen for the channel: within {mm(then_hand)} with marks by hand, "
            f"{mm(then_snapped)} with snapped dots."
        )
    if hand is None or snapped is None:
        return (
            "With it the channel can be told: foreseen within "
            f"{mm(then_hand)} with marks by hand, {mm(then_snapped)} with snapped dots."
        )
    return (
        f"It would narrow the channel from within {mm(hand)} to {mm(then_hand)} with marks by "
        f"hand, from {mm(snapped)} to {mm(then_snapped)} with snapped dots."
    )


def alone_words(guide: Guide, one_view_mm: float | None) -> str:
    """Return that marks by hand gain nothing over one photo, where that is so."""
    hand, snapped = guide.u_mm
    if one_view_mm is None or hand is None or snapped is None or hand < one_view_mm:
        return ""
    remedy = "Tap close to each dot, so that it is snapped"
    if snapped < one_view_mm:
        return (
            f"Marked by hand, these photos tell the channel within {mm(hand)}, no better than "
            f"the square-on one alone ({mm(one_view_mm)}). {remedy}: then within {mm(snapped)}."
        )
    return (
        f"These photos tell the channel no better than the square-on one alone "
        f"({mm(one_view_mm)}), even with snapped dots. Put the card on a headband, or take more."
    )


def lacking_words(guide: Guide) -> str:
    """Return which dots are marked in one photo only."""
    if not guide.lacking:
        return ""
    names = [point_words(name) for name in guide.lacking]
    more = len(names) - ONCE_IN_ALL
    if more > 0:
        names = [*names[:ONCE_IN_ALL], f"{more} more"]
    return f"Marked in one photo only: {listed(tuple(names))}. Each needs a second one."


def mm(u_mm: float) -> str:
    """Return an uncertainty with no more than two digits."""
    return f"{u_mm:.1f} mm" if u_mm >= 1.0 else f"{u_mm:.2f} mm"
