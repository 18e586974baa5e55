"""A result's parts in the words that the table, the picture and the sheet share."""

from __future__ import annotations

from assess.posts import inch_name
from assess.result import NoPostOut, PostOut, QuantityOut, Result
from assess.wording import interval_sentence, number
from calibration.quantity import Quantity

METHOD_WORDS = {
    "views": "several views",
    "one_view": "one view",
    "caliper": "calipers",
    None: "not measured",
}


def between(quantity: QuantityOut | None, otherwise: str = "-") -> str:
    """Return for example ``5.4 mm, between 4.7 and 6.1``, or ``otherwise``."""
    return otherwise if quantity is None else interval_sentence(_quantity(quantity))


def uncertainty(quantity: QuantityOut | None) -> str:
    """Return the standard uncertainty with its unit."""
    return "-" if quantity is None else f"{number(quantity.u, quantity.u)} {quantity.unit}"


def _quantity(quantity: QuantityOut) -> Quantity:
    return Quantity(quantity.value, quantity.u, quantity.low, quantity.high, quantity.unit)


def post_words(post: PostOut | NoPostOut) -> str:
    """Return a post with the spare length it leaves, or why there is none."""
    if isinstance(post, NoPostOut):
        return post.none
    inches = inch_name(post.length_mm)
    length = f"{post.length_mm:.2f} mm" + (f" ({inches})" if inches else "")
    return f"{post.gauge_mm:g} mm post, {length} long; spare length {between(post.spare)}."


def decided_words(result: Result) -> str:
    """Return who confirmed the result, or that nobody has."""
    name = result.judgement.confirmed_by
    if name is None:
        return "Not confirmed: no piercer has stated that they examined the ear and decide."
    return f"Confirmed by {name}, who states that they examined the ear and decide."
