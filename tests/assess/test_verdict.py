"""The verdict's rules, on draws whose probabilities are known."""

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA, Criteria, Limit
from assess.verdict import decide

M = 10_000


def share(inside: float, low: float, beyond: float) -> np.ndarray:
    """Return draws of which the given share keeps 'at least low'."""
    kept = round(inside * M)
    return np.concatenate([np.full(kept, low + 1), np.full(M - kept, beyond)])


def good() -> dict[str, np.ndarray | None]:
    return {
        "channel": np.full(M, 7.0),
        "relief": np.full(M, 5.0),
        "cover_front": np.full(M, 2.5),
        "cover_behind": np.full(M, 2.5),
        "room_below": np.full(M, 8.0),
    }


def test_all_good_and_firm_supports() -> None:
    decision = decide(good(), "firm", DEFAULT_CRITERIA)
    assert (decision.verdict, decision.probability) == ("supports", 1.0)


@pytest.mark.parametrize(("tissue", "words"), [("soft", "soft"), ("not_examined", "not_examined")])
def test_without_firm_tissue_it_stays_undecided(tissue, words) -> None:
    decision = decide(good(), tissue, DEFAULT_CRITERIA)
    assert decision.verdict == "undecided"
    assert decision.reasons[0].found == words


@pytest.mark.parametrize("name", ["relief", "cover_front", "room_below"])
def test_what_was_never_measured_forbids_supports(name: str) -> None:
    decision = decide({**good(), name: None}, "firm", DEFAULT_CRITERIA)
    assert decision.verdict == "undecided"
    assert decision.probability == 1.0
    assert (decision.reasons[0].criterion, decision.reasons[0].probability) == (name, None)


@pytest.mark.practice("common practice, no source")
def test_a_flat_rim_is_no_candidate() -> None:
    flat = {**good(), "relief": np.random.default_rng(1).normal(1.0, 0.3, M)}
    assert decide(flat, "firm", DEFAULT_CRITERIA).verdict == "does_not_support"


@pytest.mark.parametrize(
    ("inside", "verdict"),
    [(0.05, "does_not_support"), (0.06, "undecided"), (0.94, "undecided"), (0.95, "supports")],
)
def test_thresholds(inside: float, verdict: str) -> None:
    evidence = {**good(), "relief": share(inside, 3.0, 2.0)}
    assert decide(evidence, "firm", DEFAULT_CRITERIA).verdict == verdict


def test_joint_is_taken_from_the_same_draws_not_multiplied() -> None:
    # The same 90 % of draws keep both limits: jointly 0.9, multiplied it would be 0.81.
    evidence = {**good(), "relief": share(0.9, 3.0, 2.0), "room_below": share(0.9, 4.0, 3.0)}
    assert decide(evidence, "firm", DEFAULT_CRITERIA).probability == pytest.approx(0.9)


def test_no_channel_is_undecided_without_probability() -> None:
    decision = decide({**good(), "channel": None}, "firm", DEFAULT_CRITERIA)
    assert (decision.verdict, decision.probability) == ("undecided", None)


def test_criteria_survive_their_plain_form() -> None:
    assert Criteria.from_dict(DEFAULT_CRITERIA.to_dict()) == DEFAULT_CRITERIA
    lacking = DEFAULT_CRITERIA.to_dict()
    del lacking["limits"]["relief"]
    with pytest.raises(ValueError, match="relief"):
        Criteria.from_dict(lacking)
    with pytest.raises(ValueError, match="must not exceed"):
        Limit(3, 2)
