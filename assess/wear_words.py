"""What is said of ends, of what is worn, and of what a healed channel allows later."""

from __future__ import annotations

from assess.ends import FLUSH_MM, Style, Unsuitable
from assess.later import Bounds, Later
from assess.plan_marks import PlanJewellery
from assess.post_wording import length_words
from assess.wear import Says, Thing, WearClearance
from assess.wording import capital, chance, interval_sentence
from assess.worn_post import When, WornPost

UNSUITABLE_WORDS: dict[Unsuitable, str] = {
    "ring": "a ring presses a fresh straight channel at both ends and turns in it",
    "curved bar": "a curved bar presses a fresh straight channel at both ends",
    "pointed end": "a pointed end snags",
    "not straight": "to begin with the post is straight: a labret or a barbell",
    "outside thread": "a thread on the post would be drawn through the fresh channel",
}

WHEN_WORDS: dict[When, str] = {"now": "with the first post", "downsized": "after downsizing"}
END_WORDS = {"entry": "upper end", "exit": "lower end"}
SAYS_WORDS: dict[Says, str] = {"touches": "touching", "close": "close", "clear": "clear"}
THING_WORDS: dict[Thing, str] = {
    "glasses": "the glasses",
    "mask": "the mask",
    "headset": "the headset",
    "helmet": "the helmet",
    "headband": "the headband",
    "hat": "the hat",
    "other": "what is worn",
}

IF_PLAY_RIGHT = "by geometry, if it heals as the channel is and gives as much as assumed"
PRACTICE = "Common practice, no source."


def unsuitable_sentence(reasons: tuple[Unsuitable, ...]) -> str:
    """Return why jewellery isn't for the beginning; empty where it may be used."""
    if not reasons:
        return ""
    said = "; ".join(UNSUITABLE_WORDS[reason] for reason in reasons)
    return f"Not to begin with: {said}. {PRACTICE}"


def seat_sentence(end: str, stands_off_mm: float, seat_deg: float) -> str:
    """Return whether a disc lies flush at ``entry`` or ``exit``."""
    where = capital(END_WORDS[end])
    if stands_off_mm <= FLUSH_MM:
        return f"{where}: lies flush."
    return (
        f"{where}: the axis leans {seat_deg:.0f} degrees from square, so the far edge of a disc "
        f"stands off by {stands_off_mm:.1f} mm."
    )


def fold_sentence(room_mm: float) -> str:
    """Return what room the lower end has beside it in the fold, in the photo's plane."""
    if room_mm <= 0.0:
        return "In the fold the lower end meets the wall beside it, as the photo shows it."
    return f"In the fold the lower end has {room_mm:.1f} mm to the wall, as the photo shows it."


STYLE_WORDS: dict[Style, str] = {
    "labret": "Labret",
    "barbell": "Barbell",
    "ring": "Ring",
    "curved bar": "Curved bar",
    "other": "Other jewellery",
}


def jewellery_sentence(jewellery: PlanJewellery) -> str:
    """Return what is planned to be put in."""
    top, bottom = (
        f"{end.shape} {end.width_mm:g} mm wide, {end.height_mm:g} mm high"
        for end in (jewellery.top, jewellery.bottom)
    )
    return (
        f"{STYLE_WORDS[jewellery.style]}, {jewellery.thread}, {jewellery.post_mm:g} mm thick; "
        f"above: {top}; below: {bottom}."
    )


def worn_post_sentence(post: WornPost) -> str:
    """Return how much of a post stands out, and what room it leaves below."""
    said = (
        f"{capital(WHEN_WORDS[post.when])}, {length_words(post.length_mm)}: "
        f"{interval_sentence(post.each_side)} stands out on each side if it stands in the middle"
    )
    if post.arm > 1.0:
        said += "; slid to one side, the arm outside is longer than the half of the channel"
    if post.room_worn is not None and post.fits is not None:
        left = interval_sentence(post.room_worn)
        said += f". Room left below: {left}; enough with a chance of {chance(post.fits)}"
    return f"{said}."


def wear_sentence(found: WearClearance) -> str:
    """Return whether a worn thing touches an end."""
    thing, end = THING_WORDS[found.thing], END_WORDS[found.side]
    said = f"{capital(thing)} and the {end} of {found.label}, {WHEN_WORDS[found.when]}"
    if found.says == "touches":
        return f"{said}: touching."
    return f"{said}: {SAYS_WORDS[found.says]}, {interval_sentence(found.distance)} apart."


WEAR_DEPTH = (
    "Measured in the photo's plane: what passes over an end without touching the skin beside it "
    "isn't seen to."
)


def later_sentence(found: Later) -> str:
    """Return whether a piece would fit once healed, and what decides."""
    piece = found.piece
    names = {
        "straight": f"straight post, {length_words(piece.size_mm)}",
        "curved bar": f"curved bar, radius {piece.size_mm:g} mm",
        "ring": f"ring, {piece.size_mm:g} mm inside",
    }
    figures = {
        "spare length": "spare length",
        "bend": "play that its bend needs",
        "reach": "reach past the tissue",
    }
    figure = f"{figures[found.decides]} {interval_sentence(found.figure)}"
    odds = f"a chance of {chance(found.probability)}, {IF_PLAY_RIGHT}"
    return f"{capital(names[piece.kind])}: {found.fit}, with {odds}; {figure}."


def bounds_sentence(found: Bounds) -> str:
    """Return the tightest bend and the smallest ring."""
    said = f"Tightest bend: radius {interval_sentence(found.radius)}"
    if found.ring_inner is None:
        return f"{said}; of rings nothing can be said before the fold depth is measured."
    ring = interval_sentence(found.ring_inner)
    return f"{said}; smallest ring: {ring} inside. {capital(IF_PLAY_RIGHT)}."
