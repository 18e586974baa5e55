"""What is said of posts: which one, how probably it is right, what to order if none is."""

from __future__ import annotations

from assess.posts import NoPost, PostChoice, inch_name
from assess.wording import capital, chance_of, interval_sentence, limit_words, number
from calibration.quantity import Quantity


def length_words(length_mm: float) -> str:
    """Return for example ``10.32 mm (13/32 in)``."""
    inches = inch_name(length_mm)
    return f"{length_mm:.2f} mm" + (f" ({inches})" if inches else "")


EXPECTED = "Expected, and measured again at that visit: "
"""What stands before a post that is chosen for after downsizing."""

NO_CHANNEL_FOR_POSTS = "A post can't be chosen before the channel is measured."


def post_sentence(gauge_mm: float, length_mm: float, spare: Quantity, probability: float) -> str:
    """Return a post, the spare length it leaves, and how probably that is the wanted one."""
    return (
        f"{gauge_mm:g} mm post, {length_words(length_mm)} long; spare length "
        f"{interval_sentence(spare)}. That is as wanted with {chance_of(probability)}."
    )


def chosen_post_sentence(choice: PostChoice, channel: Quantity, *, later: bool) -> str:
    """Return the post that was chosen, the runner-up, and whether any is clearly right."""
    spare = Quantity.from_draws(choice.spare_draws, "mm")
    said = post_sentence(choice.gauge_mm, choice.length_mm, spare, choice.probability)
    second = choice.runner_up
    if second is not None:
        said += (
            f" Next best: {length_words(second.length_mm)}, with {chance_of(second.probability)}."
        )
    if not choice.clear:
        window, known = limit_words(choice.window), number(2 * channel.u, channel.u)
        said += (
            f" No length is clearly right: the wanted spare length is {window}, and the channel "
            f"is known to ± {known} mm."
        )
    return (EXPECTED if later else "") + said


def no_post_sentence(choice: NoPost, *, later: bool) -> str:
    """Return why no post suits and what to order."""
    length, suits = length_words(choice.order_length_mm), chance_of(choice.order_probability)
    before = EXPECTED if later else ""
    return f"{before}{capital(choice.reason)}; order {length}, as wanted with {suits}."
