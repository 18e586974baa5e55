"""Numbers with the digits their u supports, and sentences that say no more than is known."""

from __future__ import annotations

import re

import numpy as np
import pytest

from assess.channel import Agreement
from assess.criteria import DEFAULT_CRITERIA, Criteria, DecisionRule
from assess.settle import Outlook
from assess.steps import Step
from assess.verdict import decide
from assess.wording import (
    IF_LIMITS_RIGHT,
    chance,
    exact_terms,
    headline,
    interval_sentence,
    number,
    part_words,
    reason_sentence,
    risk_sentence,
    share_words,
    step_sentence,
)
from calibration.quantity import Quantity

M = 20_000
LENGTH = Quantity(7.03, 0.42, 6.2, 7.9, "mm")


def normal(value: float, u: float, seed: int = 1) -> np.ndarray:
    return value + u * np.random.default_rng(seed).standard_normal(M)


def evidence(**changes: np.ndarray | None) -> dict[str, np.ndarray | None]:
    return {
        "channel": normal(7.0, 0.4),
        "relief": normal(5.0, 0.3, 2),
        "cover_front": normal(3.0, 0.3, 3),
        "cover_behind": normal(3.0, 0.3, 4),
        "room_below": normal(9.0, 0.3, 5),
    } | changes


@pytest.mark.parametrize(
    ("u", "said"),
    [
        (0.025, "7.12"),
        (0.12, "7.12"),
        (0.29, "7.12"),
        (0.2999, "7.1"),
        (0.3, "7.1"),
        (0.9, "7.1"),
        (1.4, "7.1"),
        (4.0, "7"),
    ],
)
def test_no_more_than_two_digits_of_u(u: float, said: str) -> None:
    """Two where the first is 1 or 2, one from 3 on; never finer than a hundredth."""
    assert number(7.1234, u) == said


@pytest.mark.parametrize("u", np.geomspace(0.01, 9.0, 40).tolist())
def test_u_itself_is_never_told_with_more_than_two_digits(u: float) -> None:
    assert len(number(u, u).replace(".", "").lstrip("0")) <= 2
    assert len(part_words(u).replace(".", "").lstrip("0")) <= 2


def test_a_chance_is_never_told_as_certain() -> None:
    assert chance(1.0) == "over 99\u00a0%"
    assert chance(0.0) == "under 1\u00a0%"
    assert chance(0.5) == "50\u00a0%"
    assert share_words(0.004) == "under 1\u00a0%"
    assert part_words(0.004) == "under 0.01"


def test_a_yes_names_what_is_nearest_to_its_limit_where_it_is_near() -> None:
    near = decide(evidence(relief=normal(3.55, 0.3, 2)), "firm", DEFAULT_CRITERIA)
    assert near.verdict == "supports"
    assert "Nearest to its limit (at least 3 mm): the relief of the rim." in headline(near, LENGTH)
    far = decide(evidence(), "firm", DEFAULT_CRITERIA)
    assert "Nearest" not in headline(far, LENGTH)


def test_a_no_says_which_value_lies_outside_which_limit() -> None:
    found = decide(evidence(relief=normal(1.7, 0.25, 2)), "firm", DEFAULT_CRITERIA)
    said = headline(found, LENGTH)
    assert "does not support" in said
    assert re.search(
        r"relief of the rim is 1\.7\d mm, between .* outside the limit \(at least 3", said
    )
    assert "A no here is wrong with" in risk_sentence(found)


def test_a_channel_that_decides_is_not_named_twice() -> None:
    found = decide(evidence(channel=normal(3.0, 0.3)), "firm", DEFAULT_CRITERIA)
    said = headline(found, Quantity.from_draws(normal(3.0, 0.3), "mm"))
    assert said.count("channel") == 1
    assert "outside the limit (4.5 to 10 mm)" in said


@pytest.mark.parametrize(
    ("chance_", "words"),
    [
        (0.8, "The cheapest way to settle it: take the channel with calipers"),
        (0.3, "What would help most: take the channel with calipers"),
        (0.001, "No single one of the usual steps is likely to settle it."),
    ],
)
def test_the_headline_promises_no_more_than_the_step_does(chance_: float, words: str) -> None:
    found = decide(evidence(relief=normal(3.2, 0.3, 2)), "firm", DEFAULT_CRITERIA)
    outlook = Outlook(Step("calipers", "channel", normal(7, 0.4), 0.3), False, chance_, 0.9, 0, 0)
    assert words in headline(found, LENGTH, [outlook])


def test_what_takes_the_rest_to_hold_says_so() -> None:
    step = Step("calipers", "channel", normal(7, 0.4), 0.3)
    assert step_sentence(Outlook(step, True, 0.5, 0.9, 0, 0)).endswith("and the rest holds.")
    assert "rest" not in step_sentence(Outlook(step, False, 0.5, 0.9, 0, 0))
    assert "without it no yes" in step_sentence(Outlook(Step("relief", "relief")))


@pytest.mark.parametrize(
    ("tissue", "words"),
    [("soft", "a soft fold can't be called supporting"), ("not_examined", "isn't known yet")],
)
def test_the_risk_of_what_is_not_all_known_is_no_risk_of_a_yes(tissue, words: str) -> None:
    said = risk_sentence(decide(evidence(), tissue, DEFAULT_CRITERIA))
    assert said.startswith("What is measured keeps its limits")
    assert words in said
    assert "wrong" not in said


def test_without_a_channel_no_risk_is_told() -> None:
    assert risk_sentence(decide(evidence(channel=None), "firm", DEFAULT_CRITERIA)) == ""


def test_a_guard_band_is_told_with_the_limit_and_in_exact_terms() -> None:
    rule = DecisionRule(guard_factor=1.0)
    own = Criteria("guarded", "1", DEFAULT_CRITERIA.limits, rule)
    found = decide(evidence(relief=normal(3.9, 0.3, 2)), "firm", own)
    (relief,) = [r for r in found.reasons if r.criterion == "relief"]
    assert "inside by 0.6 mm for a yes" in reason_sentence(relief, rule)
    assert any("r = 1" in line for line in exact_terms(found, None))
    plain = decide(evidence(), "firm", DEFAULT_CRITERIA)
    assert "inside by" not in reason_sentence(plain.reasons[0], plain.rule)
    assert any(line.startswith("No guard band") for line in exact_terms(plain, None))


def test_exact_terms_name_both_risks_and_the_test_of_agreement() -> None:
    agreement = Agreement(Quantity(7.0, 0.4, 6.2, 7.8, "mm"), Quantity(6.4, 0.3, 5.8, 7.0, "mm"))
    said = exact_terms(decide(evidence(), "firm", DEFAULT_CRITERIA), agreement)
    text = " ".join(said)
    for words in ("consumer's risk", "producer's risk", "critical value 3.84", IF_LIMITS_RIGHT):
        assert words in text
    assert "chi-squared 1.4" in text  # 0.6² / (0.4² + 0.3²)


def test_an_interval_reads_in_words() -> None:
    assert interval_sentence(LENGTH) == "7.0 mm, between 6.2 and 7.9"
