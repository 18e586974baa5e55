"""A result's parts in the words that the screens, the table, the picture and the sheet share.

The words themselves stand in the result, and come from ``assess.wording``.
"""

from __future__ import annotations

from assess.post_wording import EXPECTED, post_sentence
from assess.result import CriteriaOut, NoPostOut, PlacementOut, PostOut, Result
from assess.result_parts import QuantityOut
from assess.wording import (
    HOW_TO_SETTLE,
    STEP_WORDS,
    interval_sentence,
    missing_sentence,
    number,
    part_words,
    share_words,
)
from calibration.quantity import Quantity

METHOD_WORDS = {
    "views": "several views",
    "one_view": "one view",
    "caliper": "calipers",
    None: "not measured",
}

AT_FIRST, LATER = "At first", "After downsizing"
"""What the two posts are called wherever they stand."""


def between(quantity: QuantityOut | None, otherwise: str = "-") -> str:
    """Return for example ``5.4 mm, between 4.7 and 6.1``, or ``otherwise``."""
    return otherwise if quantity is None else interval_sentence(_quantity(quantity))


def uncertainty(quantity: QuantityOut | None) -> str:
    """Return the standard uncertainty with its unit."""
    return "-" if quantity is None else f"{number(quantity.u, quantity.u)} {quantity.unit}"


def _quantity(quantity: QuantityOut) -> Quantity:
    return Quantity(quantity.value, quantity.u, quantity.low, quantity.high, quantity.unit)


def limits_words(criteria: CriteriaOut) -> str:
    """Return what the limits are called and what each rests on, the same once only."""
    bases = sorted({str(limit["basis"]) for limit in criteria.limits.values() if "basis" in limit})
    return f"{criteria.name}, version {criteria.version} ({'; '.join(bases)})"


def post_words(post: PostOut | NoPostOut) -> str:
    """Return a post with the spare length it leaves, or why there is none."""
    if isinstance(post, NoPostOut):
        return post.none
    if post.sentence is not None:
        return post.sentence
    return post_sentence(  # saved before results had the sentence
        post.gauge_mm, post.length_mm, _quantity(post.spare), post.probability
    )


def posts_words(found: PlacementOut) -> list[tuple[str, PostOut | NoPostOut, str]]:
    """Return both posts: what each is called, the post, and what is said of it."""
    later = post_words(found.posts.downsized)
    if found.channel is not None and not later.startswith(EXPECTED):
        later = EXPECTED + later
    return [
        (AT_FIRST, found.posts.initial, post_words(found.posts.initial)),
        (LATER, found.posts.downsized, later),
    ]


def risk_words(found: PlacementOut) -> str:
    """Return how probably the answer would be wrong; empty in results from before it was said."""
    return found.risk.sentence if found.risk is not None else ""


def seat_words(found: PlacementOut) -> list[str]:
    """Return the sentence on the seat at each end; none in results from before it was measured."""
    return [] if found.seat is None else [found.seat.entry.sentence, found.seat.exit.sentence]


def to_settle(found: PlacementOut) -> list[str]:
    """Return what would settle the verdict, the best step first, and why photos were refused."""
    lacking = {missing_sentence(criterion) for criterion in HOW_TO_SETTLE}
    if not found.settle:
        return list(found.missing)
    refusals = [line for line in found.missing if line not in lacking]
    return [*(step.sentence for step in found.settle if step.helps), *refusals]


def foreseen(found: PlacementOut) -> list[str]:
    """Return the steps that help, without those whose reason already says how to measure it."""
    steps = [step for step in found.settle if step.chance_of_definite is not None]
    return [step.sentence for step in steps if step.helps]


def budget_table(found: PlacementOut) -> dict[str, list[str]]:
    """Return the channel's budget in columns, largest part first."""
    columns = {"input": [row.input for row in found.budget]}
    parts = [row.u_mm for row in found.budget if row.u_mm is not None]
    if len(parts) == len(found.budget):
        columns["part of u (mm)"] = [part_words(part) for part in parts]
    columns["share of the variance"] = [share_words(row.share) for row in found.budget]
    if any(row.distribution is not None for row in found.budget):
        columns["distribution"] = [row.distribution or "-" for row in found.budget]
        columns["degrees of freedom"] = [_dof(row.dof) for row in found.budget]
        columns["known how"] = [f"{row.basis}; {row.source}" for row in found.budget]
    return columns


def _dof(dof: float | None) -> str:
    if dof is None:
        return "no bound"
    return "over 1000" if dof > 1000.0 else f"{dof:.0f}"


def first_order_words(found: PlacementOut) -> str:
    """Return the channel's u by first order beside the draws'; empty where there is none."""
    first, channel = found.first_order, found.channel
    if first is None or channel is None:
        return ""
    free = "" if first.dof is None else f" with {first.dof:.0f} degrees of freedom"
    return (
        f"By first order u is {part_words(first.u)} mm{free}, "
        f"U {part_words(first.expanded)} mm at {100 * first.coverage:.0f} %. The draws, which also "
        f"hold what first order can't see, give u {part_words(channel.u)} mm; the result is theirs."
    )


def steps_table(found: PlacementOut) -> dict[str, list[str]]:
    """Return what each foreseen step promises, in columns; empty where none could be foreseen."""
    steps = [step for step in found.settle if step.chance_of_definite is not None]
    if not steps:
        return {}
    columns = {
        "step": [STEP_WORDS.get(step.step, step.step) for step in steps],
        "minutes": [f"{step.minutes:g}" for step in steps],
    }
    for title, name in STEP_FIGURES.items():
        columns[title] = [f"{getattr(step, name):.2f}" for step in steps]
    return columns


STEP_FIGURES = {
    "yes or no then": "chance_of_definite",
    "mean of max(P, 1 - P)": "expected_probability",
    "ends in a wrong yes": "risk_wrong_yes",
    "ends in a wrong no": "risk_wrong_no",
}


def decided_words(result: Result) -> str:
    """Return who confirmed the result, or that nobody has."""
    name = result.judgement.confirmed_by
    if name is None:
        return "Not confirmed: no piercer has stated that they examined the ear and decide."
    return f"Confirmed by {name}, who states that they examined the ear and decide."
