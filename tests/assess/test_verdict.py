"""The verdict's rules, on draws whose probabilities are known."""

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA, Criteria, DecisionRule, Limit
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


def test_criteria_kept_before_there_was_a_rule_get_the_one_that_was_in_force() -> None:
    old = DEFAULT_CRITERIA.to_dict()
    del old["rule"]
    assert Criteria.from_dict(old).rule == DecisionRule(0.95, 0.05, 0.0)


def test_a_studio_s_own_rule_survives_its_plain_form() -> None:
    own = Criteria("own", "2", DEFAULT_CRITERIA.limits, DecisionRule(0.99, 0.01, 0.5))
    assert Criteria.from_dict(own.to_dict()) == own


@pytest.mark.parametrize("rule", [(0.9, 0.95, 0.0), (0.95, -0.1, 0.0), (0.95, 0.05, -1.0)])
def test_a_rule_that_makes_no_sense_is_refused(rule: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="must be"):
        DecisionRule(*rule)


def test_the_studio_says_how_sure_a_yes_must_be() -> None:
    evidence = {**good(), "relief": share(0.97, 3.0, 2.0)}
    strict = Criteria("strict", "1", DEFAULT_CRITERIA.limits, DecisionRule(supports_from=0.98))
    assert decide(evidence, "firm", DEFAULT_CRITERIA).verdict == "supports"
    assert decide(evidence, "firm", strict).verdict == "undecided"


def test_the_risks_are_those_of_a_yes_and_of_a_no() -> None:
    found = decide({**good(), "relief": share(0.8, 3.0, 2.0)}, "firm", DEFAULT_CRITERIA)
    assert found.risk_wrong_yes == pytest.approx(0.2)
    assert found.risk_wrong_no == pytest.approx(0.8)
    without = decide({**good(), "channel": None}, "firm", DEFAULT_CRITERIA)
    assert (without.risk_wrong_yes, without.risk_wrong_no) == (None, None)


def test_a_soft_rim_stays_undecided_even_where_the_studio_asks_for_little() -> None:
    easy = Criteria("easy", "1", DEFAULT_CRITERIA.limits, DecisionRule(0.1, 0.0))
    assert decide(good(), "soft", easy).verdict == "undecided"


@pytest.mark.parametrize("seed", range(20))
def test_a_stricter_limit_never_raises_a_probability(seed: int) -> None:
    """Neither of its own criterion nor jointly, and the verdict never gets better by it."""
    rng = np.random.default_rng(seed)
    evidence = {
        "channel": rng.normal(rng.uniform(4, 10), rng.uniform(0.1, 1.0), M),
        "relief": rng.normal(rng.uniform(2, 5), rng.uniform(0.1, 1.0), M),
        "room_below": rng.normal(rng.uniform(3, 6), rng.uniform(0.1, 1.0), M),
    }
    order = ("does_not_support", "undecided", "supports")
    before = None
    for cut in np.sort(rng.uniform(0.0, 2.0, 6)):
        limits = {
            **DEFAULT_CRITERIA.limits,
            "channel": Limit(4.5 + cut, 10.0 - cut),
            "relief": Limit(3.0 + cut, None),
        }
        found = decide(evidence, "firm", Criteria("stricter", "1", limits))
        single = {r.criterion: r.probability for r in found.reasons}
        if before is not None:
            assert found.probability <= before[0]
            assert all(single[name] <= before[1][name] for name in evidence)
            assert order.index(found.verdict) <= order.index(before[2])
        before = (found.probability, single, found.verdict)


@pytest.mark.parametrize("seed", range(10))
def test_a_wider_guard_band_never_makes_a_verdict_surer(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    evidence = {**good(), "relief": rng.normal(rng.uniform(1.5, 4.5), 0.3, M)}
    said = []
    for factor in (0.0, 0.5, 1.0, 2.0):
        rule = DecisionRule(guard_factor=factor)
        own = Criteria("guarded", "1", DEFAULT_CRITERIA.limits, rule)
        said.append(decide(evidence, "firm", own).verdict)
    sure = [verdict != "undecided" for verdict in said]
    assert sure == sorted(sure, reverse=True)
    assert len(set(said) - {"undecided"}) <= 1
