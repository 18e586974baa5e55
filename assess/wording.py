"""Every sentence a person reads about a result, and the statement that the piercer decides.

Numbers carry their unit and the interval they lie in, with no more digits than the
uncertainty supports.
"""

from __future__ import annotations

import math

from assess.criteria import Limit
from assess.posts import NoPost, inch_name
from assess.verdict import Reason, Verdict
from calibration.quantity import Quantity

JUDGEMENT_STATEMENT = (
    "The piercer who examines the ear decides. These are measurements held against limits that "
    "this studio chose; they are no evidence that a piercing will heal, and no medical advice. "
    "Local law, licensing and licensed medical care come first."
)

IF_LIMITS_RIGHT = "if this studio's limits are right"

CRITERION_WORDS = {
    "channel": "channel",
    "relief": "relief of the rim",
    "cover_front": "tissue in front of the post",
    "cover_behind": "tissue behind the post",
    "room_below": "room below the exit",
    "spacing": "distance to the next post",
    "tissue": "tissue",
}

VERDICT_WORDS: dict[Verdict, str] = {
    "supports": "The rim supports this placement",
    "undecided": "Can't tell yet",
    "does_not_support": "The rim does not support this placement",
}

HOW_TO_SETTLE = {
    "channel": "mark entry and exit in a square-on photo, or take the channel with calipers",
    "relief": "measure the relief from crest to scapha with a depth rod",
    "cover_front": "take the fold depth with calipers, without pressing",
    "cover_behind": "take the fold depth with calipers, without pressing",
    "room_below": "mark the next structure below the exit",
    "spacing": "mark both placements in the same photo",
    "tissue": "feel whether the rim is firm or soft",
}

UNSCALED = "no card was found in it"


def decimals(u: float) -> int:
    """Return how many decimals a value with standard uncertainty ``u`` supports (0 to 3).

    Two significant digits of u at most; one where its first digit is 3 or more.
    """
    if u <= 0.0 or not math.isfinite(u):
        return 2
    exponent = math.floor(math.log10(u))
    digits = -exponent + (1 if u / 10.0**exponent < 3.0 else 0)
    return min(max(digits, 0), 2)


def number(value: float, u: float) -> str:
    """Return ``value`` with the decimals that ``u`` supports."""
    return f"{value:.{decimals(u)}f}"


def interval_sentence(quantity: Quantity) -> str:
    """Return for example ``5.4 mm, between 4.7 and 6.1``."""
    value, low, high = (
        number(v, quantity.u) for v in (quantity.value, quantity.low, quantity.high)
    )
    return f"{value} {quantity.unit}, between {low} and {high}"


def chance(probability: float) -> str:
    """Return a probability in words a client understands."""
    if probability > 0.99:
        return "over 99 %"
    if probability < 0.01:
        return "under 1 %"
    return f"{100 * probability:.0f} %"


def limit_words(limit: Limit) -> str:
    """Return for example ``4.5 to 10 mm`` or ``at least 3 mm``."""
    if limit.low is not None and limit.high is not None:
        return f"{limit.low:g} to {limit.high:g} {limit.unit}"
    if limit.low is not None:
        return f"at least {limit.low:g} {limit.unit}"
    return f"at most {limit.high:g} {limit.unit}"


def reason_sentence(reason: Reason, measured: Quantity | None) -> str:
    """Return what was found on one criterion, against which limit, how probably it holds."""
    if reason.criterion == "tissue":
        return _tissue_sentence(reason.found)
    name = CRITERION_WORDS[reason.criterion]
    limit = limit_words(reason.limit) if reason.limit else ""
    if measured is None or reason.probability is None:
        how = HOW_TO_SETTLE[reason.criterion]
        return f"{_cap(name)}: not measured; wanted {limit}. To settle it: {how}."
    return (
        f"{_cap(name)}: {interval_sentence(measured)}; wanted {limit}; "
        f"holds with {chance(reason.probability)} {IF_LIMITS_RIGHT}."
    )


def _tissue_sentence(found: str) -> str:
    if found == "firm":
        return "Tissue: firm, by the piercer's hands."
    if found == "soft":
        return "Tissue: soft, by the piercer's hands; a soft fold can't be called supporting."
    return f"Tissue: not examined. To settle it: {HOW_TO_SETTLE['tissue']}."


def _cap(text: str) -> str:
    return text[:1].upper() + text[1:]


def missing_sentence(criterion: str) -> str:
    """Return what is missing for a criterion and how to get it."""
    return f"{_cap(CRITERION_WORDS[criterion])}: {HOW_TO_SETTLE[criterion]}."


def headline(verdict: Verdict, reasons: tuple[Reason, ...], channel: Quantity | None) -> str:
    """Return the one sentence a client understands."""
    words = VERDICT_WORDS[verdict]
    if channel is None:
        return f"{words}: the channel isn't measured."
    length = f"the channel is {interval_sentence(channel)}"
    if verdict == "supports":
        return f"{words}, {IF_LIMITS_RIGHT}: {length}."
    first = reasons[0]
    if first.found == "soft":
        return f"{words}: {length}, and the tissue is soft."
    name = CRITERION_WORDS[first.criterion]
    if first.probability is None:
        return f"{words}: {length}, but {_unknown(first.criterion)}."
    if verdict == "does_not_support":
        return f"{words}, {IF_LIMITS_RIGHT}: {length}, and the {name} is outside the limit."
    return f"{words}: {length}, and the {name} is too near its limit to say."


def _unknown(criterion: str) -> str:
    if criterion == "tissue":
        return "the tissue isn't examined"
    return f"the {CRITERION_WORDS[criterion]} isn't measured"


def no_post_sentence(choice: NoPost) -> str:
    """Return why no post suits and what to order."""
    if choice.order_length_mm is None:
        return f"{_cap(choice.reason)}."
    name = inch_name(choice.order_length_mm)
    return f"{_cap(choice.reason)}; {choice.order_length_mm:.2f} mm ({name}) would."


NO_CHANNEL_FOR_POSTS = "A post can't be chosen before the channel is measured."


def disagreement_sentence(photo_minus_caliper_mm: float, u_mm: float) -> str | None:
    """Return a sentence where photo and calipers differ by more than their uncertainty allows.

    Chi-squared of one difference at the 5 % level (JCGM 100:2008 leaves the level open).
    """
    if u_mm <= 0.0 or abs(photo_minus_caliper_mm) <= 1.96 * u_mm:
        return None
    return (
        f"Photo and calipers differ by {abs(photo_minus_caliper_mm):.1f} mm, more than their "
        f"uncertainty of {1.96 * u_mm:.1f} mm allows. One of them is off; measure both again."
    )
