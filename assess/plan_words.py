"""What is said of a plan: how many, where, why not more, what lies between, the other ear."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assess.grouping import NoLayout, Proposal
from assess.how_many import HowMany
from assess.insertion import Again, NotHere
from assess.plan import Difference, Moved, Spacing
from assess.plan_marks import Approval
from assess.plan_posts import PlannedPost
from assess.spacing import AXES, BOTTOMS, HOLE, TOPS, Clearance
from assess.together import Together
from assess.wear_words import fold_sentence, seat_sentence
from assess.wording import CRITERION_WORDS, capital, chance_of

COUNT_WORDS = ("no post", "one post", "two posts", "three posts", "four posts", "five posts")

SPACING_WORDS: dict[Spacing, str] = {
    "arc": "even along the rim",
    "sight": "even to the eye, as seen in this photo",
    "free": "each where the rim carries it best",
}

NO_RIM = (
    "The plan isn't measured: its photo needs both contours of the rim, the card in it, and to be "
    "seen square-on."
)

PART_WORDS = {
    AXES: "the posts",
    TOPS: "the upper ends",
    BOTTOMS: "the lower ends",
    HOLE: "the post and what was pierced before",
}

LIMIT_WORDS = CRITERION_WORDS | {
    "spacing": "distance to what is beside it",
    "cover": "tissue beside the post",
}

AGAIN_WORDS: dict[Again, str] = {
    "old": "the assessment is not of today",
    "dots drawn anew": "the dots were drawn anew since",
    "tissue changed": "the ear isn't as it was",
}


def number_sentence(found: HowMany) -> str:
    """Return how many posts the rim carries together, and what that rests on."""
    words = COUNT_WORDS[found.count]
    if found.joint is None or found.joint.probability is None:
        return f"By its contours this rim carries {words}. {_why(found)}"
    said = (
        f"By its contours this rim carries {words} together, with "
        f"{chance_of(found.joint.probability)}. {_why(found)}"
    )
    return said if found.settled else f"{said} {_unsettled(found)}"


def _why(found: HowMany) -> str:
    """Return what rules the number."""
    more = COUNT_WORDS[min(found.count + 1, 5)]
    if found.why == "five":
        return "More than five are not planned on one rim."
    if found.why == "together":
        chance = found.one_more.probability if found.one_more else None
        least = found.one_more.least if found.one_more else None
        for_it = f" for {LIMIT_WORDS[least[1]]}" if least else ""
        odds = "" if chance is None else f": {more} would hold with {chance_of(chance)}"
        return f"There is room for {more}, but not surely enough{for_it}{odds}."
    if found.why == "earlier":
        return f"What was pierced before takes the room: without it there were {_count(found)}."
    if found.why == "ends":
        return f"The ends are too wide for more: with narrower ones there were {_count(found)}."
    if found.why == "room":
        return "The stretch that is thick enough is too short for one more at the least spacing."
    return "Nowhere else along the marked rim does the channel keep its limits."


def _count(found: HowMany) -> str:
    return f"room for {COUNT_WORDS[found.without]}"


def _unsettled(found: HowMany) -> str:
    if found.tissue == "soft":
        return "The tissue is soft, by the piercer's hands: no number can be called supported."
    parts = []
    if found.tissue == "not_examined":
        parts.append("feel whether the rim is firm")
    if not found.cover_measured:
        parts.append("take the fold depth with calipers where it is thinnest")
    return f"Before it can be called supported: {', and '.join(parts)}."


def layout_sentence(found: Proposal | NoLayout) -> str:
    """Return what is proposed, or how many there is room for instead."""
    if isinstance(found, NoLayout):
        wanted, room = COUNT_WORDS[found.count], COUNT_WORDS[found.most]
        return f"{capital(wanted)} have no place here that keeps every limit; {room} would."
    words = SPACING_WORDS[found.spacing] if len(found.plan.placements) > 1 else "best place"
    return f"{capital(COUNT_WORDS[len(found.plan.placements)])}, {words}. Drag any of them."


def wanted_sentence(wanted: int, planned: int, found: HowMany) -> str:
    """Return what was asked for against what the rim carries and what is planned."""
    if planned == 0:
        return f"{capital(COUNT_WORDS[wanted])} asked for; nothing is planned yet."
    if planned == wanted:
        return f"{capital(COUNT_WORDS[planned])} planned, as asked for."
    if planned < wanted and found.count < wanted:
        return (
            f"{capital(COUNT_WORDS[wanted])} asked for; {COUNT_WORDS[planned]} planned, since the "
            f"rim carries {COUNT_WORDS[found.count]}."
        )
    return f"{capital(COUNT_WORDS[wanted])} asked for; {COUNT_WORDS[planned]} planned."


def off_rim_sentence(labels: tuple[str, ...]) -> str:
    """Return which axes don't come out of the rim."""
    names = " and ".join(labels)
    return f"The axis of {names} doesn't come out of the marked rim: move it, or lean it less."


def approval_sentence(found: Approval | None, planned: int) -> str:
    """Return what the client said to the drawing at true size."""
    if planned == 0:
        return ""
    if found is None:
        return "The client hasn't approved the drawing yet."
    if found.answer == "anew":
        return "The client wants it otherwise: the dots are wiped off and marked anew."
    return f"The client approved the drawing at true size on {found.at[:10]} (kept by {found.by})."


def post_sentences(post: PlannedPost, worn: Sequence[str]) -> tuple[str, ...]:
    """Return what is said of one planned post: how it stands out, how it sits, its room."""
    said = list(worn)
    for name, each in zip(("entry", "exit"), post.seats, strict=True):
        said.append(seat_sentence(name, each.stands_off_mm, each.seat_deg))
    if any(post.to_order):
        said.append("A length that isn't in stock is drawn: it would have to be ordered.")
    if np.isfinite(post.fold_mm):
        said.append(fold_sentence(post.fold_mm))
    if post.room_mm is None:
        said.append(
            "Room below: not measured here. Mark entry, exit and the next structure at this place."
        )
    return tuple(said)


def clearance_sentence(found: Clearance) -> str:
    """Return how far two things are apart, and whether that keeps its limit."""
    what = f"{capital(PART_WORDS[found.part])} of {found.first} and {found.second}"
    if found.part == HOLE:
        what = f"{found.first} and {found.second}"
    apart, needed = f"{found.distance_mm:.1f} mm apart", f"{found.needed_mm:.1f} mm"
    if found.margin_mm < 0.0:
        return f"{what}: {apart}; at least {needed} is wanted. Move one of them."
    return f"{what}: {apart}, at least {needed} is wanted."


def together_sentence(found: Together) -> str:
    """Return how probably all of them keep all limits, and which is the least certain."""
    if found.probability is None:
        return "Nothing of this plan is measured yet."
    said = f"All of them keep their limits together with {chance_of(found.probability)}."
    least = found.least
    if least is not None and found.limits[least] < 0.99:
        said += f" Least certain: {LIMIT_WORDS[least[1]]} of {least[0]}."
    if found.missing:
        lacking = dict.fromkeys(LIMIT_WORDS[name] for _, name in found.missing)
        said += f" Not measured: {', '.join(lacking)}."
    return said


def moved_sentence(moved: Moved) -> str:
    """Return by what both ears were laid against each other."""
    if moved.by_top:
        return "Mirrored from the other ear, both laid against each other at their highest place."
    return (
        "Mirrored from the other ear by the front of both contours: mark both rims over their "
        "highest place to compare them better."
    )


def difference_sentence(found: Difference) -> str:
    """Return how a placement on this ear differs from the other ear's mirror image."""
    parts = []
    if abs(found.arc_mm) >= 0.05:
        way = "further back" if found.arc_mm > 0.0 else "further forward"
        parts.append(f"{abs(found.arc_mm):.1f} mm {way}")
    if abs(found.lean_deg) >= 0.5:
        way = "back" if found.lean_deg > 0.0 else "forward"
        parts.append(f"leans {abs(found.lean_deg):.0f} degrees more to the {way}")
    if found.channel_mm is None:
        parts.append("the axis doesn't come out of one of the rims")
    elif abs(found.channel_mm) >= 0.05:
        longer = "longer" if found.channel_mm > 0.0 else "shorter"
        parts.append(f"channel {abs(found.channel_mm):.1f} mm {longer}")
    return f"{found.label}: {'; '.join(parts) or 'as on the other ear'}."


def measure_again_sentence(reasons: tuple[Again, ...]) -> str:
    """Return what asks for measuring again today; empty where nothing does."""
    if not reasons:
        return ""
    return f"Measure again before piercing: {'; '.join(AGAIN_WORDS[r] for r in reasons)}."


def not_here_sentence(kept: NotHere) -> str:
    """Return what was found where the rim doesn't support it, said to the client."""
    found = ", ".join(kept.findings)
    said = f"This place isn't the one for it: {found}. That says nothing against your ear."
    if kept.elsewhere:
        return f"{said} We talked about other places: {', '.join(kept.elsewhere)}."
    return f"{said} No other place was talked about."
