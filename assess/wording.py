"""Every sentence a person reads about a result, and the statement that the piercer decides.

Numbers carry their unit and the interval they lie in, with no more digits than the
uncertainty supports.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from assess.channel import ALPHA, Agreement
from assess.criteria import DecisionRule, Limit
from assess.settle import Outlook
from assess.steps import MEASURED_BY
from assess.verdict import Decision, Reason, Verdict
from calibration.quantity import Quantity

JUDGEMENT_STATEMENT = (
    "The piercer who examines the ear decides. These are measurements held against limits that "
    "this studio chose; they are no evidence that a piercing will heal, and no medical advice. "
    "Local law, licensing and licensed medical care come first."
)

NO_BREAK = "\u00a0"
"""Between a number and its sign, so that no line ends there."""

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

LOW_CONFIDENCE = "Low confidence: the scale comes from an object, not from the scale card."
"""Stands before everything that was measured so, on every output."""

VERDICT_WORDS: dict[Verdict, str] = {
    "supports": "The rim supports this placement",
    "undecided": "Can't tell yet",
    "does_not_support": "The rim does not support this placement",
}

STEP_WORDS = {
    "channel": "mark entry and exit in a square-on photo, or take the channel with calipers",
    "relief": "measure the relief from crest to scapha with a depth rod",
    "fold_depth": "take the fold depth with calipers, without pressing",
    "mark_below": "mark the next structure below the exit",
    "spacing": "mark both placements in the same photo",
    "examine": "feel whether the rim is firm or soft",
    "mark_again": "mark entry and exit twice more, without seeing the first marks",
    "square_on": "take the photo again, more square-on",
    "views": "photograph the pen dots from above and below too, with the card kept still",
    "check_bars": "read the check bars of this print with calipers",
    "offset": "read with the depth rod how far the rim stands before the card",
    "calipers": "take the channel with calipers, dot to dot, without pressing",
    "calipers_again": "take the channel with calipers again, and enter the mean",
    "relief_again": "read the relief with the depth rod again, and enter the mean",
    "fold_depth_again": "take the fold depth with calipers again, and enter the mean",
}

HOW_TO_SETTLE = {criterion: STEP_WORDS[step] for criterion, step in MEASURED_BY.items()}


def decimals(u: float) -> int:
    """Return how many decimals a value with standard uncertainty ``u`` supports (0 to 3).

    Two significant digits of u at most; one where its first digit is 3 or more.
    """
    if u <= 0.0 or not math.isfinite(u):
        return 2
    exponent = math.floor(math.log10(u))
    digits = -exponent + (1 if round(u / 10.0**exponent, 1) < 3.0 else 0)
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
        return f"over 99{NO_BREAK}%"
    if probability < 0.01:
        return f"under 1{NO_BREAK}%"
    return f"{100 * probability:.0f}{NO_BREAK}%"


def share_words(share: float) -> str:
    """Return an input's share of a variance."""
    return f"under 1{NO_BREAK}%" if share < 0.01 else f"{100 * share:.0f}{NO_BREAK}%"


def part_words(u_mm: float) -> str:
    """Return an input's part of a standard uncertainty, mm."""
    if u_mm < 0.01:
        return "under 0.01"
    return f"{u_mm:.2f}" if u_mm < 1.0 else f"{u_mm:.1f}"


def limit_words(limit: Limit) -> str:
    """Return for example ``4.5 to 10 mm`` or ``at least 3 mm``."""
    if limit.low is not None and limit.high is not None:
        return f"{limit.low:g} to {limit.high:g} {limit.unit}"
    if limit.low is not None:
        return f"at least {limit.low:g} {limit.unit}"
    return f"at most {limit.high:g} {limit.unit}"


def chance_of(probability: float) -> str:
    """Return a chance with what it hangs on; no probability is shown without that."""
    return f"a chance of {chance(probability)}, {IF_LIMITS_RIGHT}"


def reason_sentence(reason: Reason, rule: DecisionRule) -> str:
    """Return what was found on one criterion, against which limit, how probably it holds."""
    if reason.criterion == "tissue":
        return _tissue_sentence(reason.found)
    name = CRITERION_WORDS[reason.criterion]
    limit = limit_words(reason.limit) if reason.limit else ""
    measured = reason.measured
    if measured is None or reason.probability is None:
        how = HOW_TO_SETTLE[reason.criterion]
        return f"{capital(name)}: not measured; wanted {limit}. To settle it: {how}."
    guard = rule.guard(measured.u)
    inside = f", inside by {number(guard, guard)} mm for a yes" if guard > 0.0 else ""
    return (
        f"{capital(name)}: {interval_sentence(measured)}; wanted {limit}{inside}. "
        f"It holds with {chance_of(reason.probability)}."
    )


def _tissue_sentence(found: str) -> str:
    if found == "firm":
        return "Tissue: firm, by the piercer's hands."
    if found == "soft":
        return "Tissue: soft, by the piercer's hands; a soft fold can't be called supporting."
    return f"Tissue: not examined. To settle it: {HOW_TO_SETTLE['tissue']}."


def capital(text: str) -> str:
    """Return the text with its first letter large."""
    return text[:1].upper() + text[1:]


def missing_sentence(criterion: str) -> str:
    """Return what is missing for a criterion and how to get it."""
    return f"{capital(CRITERION_WORDS[criterion])}: {HOW_TO_SETTLE[criterion]}."


def headline(
    decision: Decision,
    channel: Quantity | None,
    outlooks: Sequence[Outlook] = (),
    agreement: Agreement | None = None,
    *,
    low_confidence: bool = False,
) -> str:
    """Return what a client understands: the answer, what decides, the step that settles it."""
    said = _answer(decision, channel, outlooks)
    if low_confidence:
        said = f"{LOW_CONFIDENCE} {said}"
    if agreement is None or agreement.agrees:
        return said
    return f"{said} But photo and calipers disagree: measure both again."


def _answer(decision: Decision, channel: Quantity | None, outlooks: Sequence[Outlook]) -> str:
    words = VERDICT_WORDS[decision.verdict]
    if channel is None:
        return f"{words}: the channel isn't measured.{_next_step(outlooks)}"
    length = f"the channel is {interval_sentence(channel)}"
    first = decision.deciding
    if decision.verdict == "supports":
        near = _nearest(first) if (first.probability or 0.0) < 0.99 else ""
        return f"{words}, {IF_LIMITS_RIGHT}: {length}.{near}"
    if first.found == "soft":
        return f"{words}: {length}, and the tissue is soft."
    if first.probability is None:
        return f"{words}: {length}, but {_unknown(first.criterion)}.{_next_step(outlooks)}"
    limit = limit_words(first.limit) if first.limit else ""
    if decision.verdict == "does_not_support":
        apart = f", outside the limit ({limit})"
        return f"{words}, {IF_LIMITS_RIGHT}: {length}{_besides(first)}{apart}."
    near = f", too near the limit ({limit}) to say"
    return f"{words}: {length}{_besides(first)}{near}.{_next_step(outlooks)}"


def _besides(reason: Reason) -> str:
    """Return a criterion with its value, to follow the channel's; nothing if it is that."""
    if reason.criterion == "channel" or reason.measured is None:
        return ""
    name, value = CRITERION_WORDS[reason.criterion], interval_sentence(reason.measured)
    return f", and the {name} is {value}"


def _nearest(reason: Reason) -> str:
    limit = limit_words(reason.limit) if reason.limit else ""
    return f" Nearest to its limit ({limit}): the {CRITERION_WORDS[reason.criterion]}."


def _unknown(criterion: str) -> str:
    if criterion == "tissue":
        return "the tissue isn't examined"
    return f"the {CRITERION_WORDS[criterion]} isn't measured"


def _next_step(outlooks: Sequence[Outlook]) -> str:
    """Return the step to take now, for the end of the headline."""
    if not outlooks:
        return ""
    best = outlooks[0]
    words = STEP_WORDS[best.step.name]
    if best.chance_of_definite is None:
        return f" To settle it, first {words}."
    if not best.helps:
        return " No single one of the usual steps is likely to settle it."
    if best.chance_of_definite >= 0.5:
        return f" The cheapest way to settle it: {words}."
    return f" What would help most: {words}."


def step_sentence(outlook: Outlook) -> str:
    """Return a step with its rough cost and how probably it settles the verdict."""
    step = outlook.step
    said = f"{capital(STEP_WORDS[step.name])} (about {step.minutes:g} min)"
    if outlook.chance_of_definite is None:
        return f"{said}; without it no yes is possible."
    rest = ", and the rest holds" if outlook.rest_holds else ""
    return f"{said}: settles it with {chance_of(outlook.chance_of_definite)}{rest}."


def risk_sentence(decision: Decision) -> str:
    """Return how probably a yes, or a no, would be wrong; empty where there is no channel."""
    yes, no = decision.risk_wrong_yes, decision.risk_wrong_no
    if yes is None or no is None:
        return ""
    if decision.verdict == "supports":
        return f"A yes here is wrong with {chance_of(yes)}."
    if decision.verdict == "does_not_support":
        return f"A no here is wrong with {chance_of(no)}."
    if decision.complete:
        return (
            f"A yes today would be wrong with a chance of {chance(yes)}, a no with {chance_of(no)}."
        )
    soft = any(reason.found == "soft" for reason in decision.reasons)
    still = "a soft fold can't be called supporting" if soft else "the rest isn't known yet"
    return f"What is measured keeps its limits with {chance_of(no)}; {still}."


def exact_terms(decision: Decision, agreement: Agreement | None) -> tuple[str, ...]:
    """Return the verdict in the terms of JCGM 106, for whoever wants them."""
    rule = decision.rule
    lines = [
        f"Decision rule: yes where the joint conformance probability is at least "
        f"{rule.supports_from:g} and every criterion is measured; no where one criterion's is at "
        f"most {rule.fails_to:g}; else undecided (JCGM 106:2012, 8).",
        f"Guard band: w = r U with r = {rule.guard_factor:g} and U = 2 u."
        if rule.guard_factor > 0.0
        else "No guard band: the acceptance limits are the limits themselves.",
    ]
    if decision.probability is not None:
        kind = "" if decision.complete else " of the criteria measured"
        lines += [
            f"Joint conformance probability{kind}: {decision.probability:.3f}, {IF_LIMITS_RIGHT}.",
            f"Specific consumer's risk (a wrong yes): {decision.risk_wrong_yes:.3f}; specific "
            f"producer's risk (a wrong no): {decision.risk_wrong_no:.3f}; {IF_LIMITS_RIGHT}.",
        ]
    if agreement is not None:
        lines.append(
            f"Photo against calipers: chi-squared {agreement.chi_squared:.1f}, critical value "
            f"{agreement.critical:.2f} (one degree of freedom, level {ALPHA:g})."
        )
    return tuple(lines)
