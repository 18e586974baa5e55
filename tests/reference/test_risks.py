"""Decision rules, guard bands and risks against JCGM 106:2012 and independent libraries."""

from __future__ import annotations

import warnings
from types import ModuleType

import numpy as np
import pytest
from scipy.stats import gamma, multivariate_normal, norm

from assess.criteria import DEFAULT_CRITERIA, Criteria, DecisionRule, Limit
from assess.foresee import Belief, Risks, foresee, global_risks
from assess.verdict import Decision, decide
from calibration.draws import Draws

DRAWS = Draws(seed=1, count=400_000)
FINE = 8001
"""Readings on the grid: an acceptance limit cuts it anywhere, so its step is an error."""


def decision(value: float, u: float, limit: Limit, rule: DecisionRule) -> Decision:
    """Return the verdict on one measured quantity, everything else in order."""
    limits = {**DEFAULT_CRITERIA.limits, "channel": limit}
    evidence = {"channel": value + u * DRAWS.normal("measurand")}
    return decide(evidence, "firm", Criteria("test", "1", limits, rule))


def exactly(value: float, u: float, limit: Limit, rule: DecisionRule) -> Decision:
    """Return the same with draws that have exactly this mean and standard deviation."""
    draws = DRAWS.normal("measurand")
    draws = value + u * (draws - draws.mean()) / draws.std(ddof=1)
    limits = {**DEFAULT_CRITERIA.limits, "channel": limit}
    return decide({"channel": draws}, "firm", Criteria("test", "1", limits, rule))


@pytest.mark.memory(source="JCGM 106:2012, clause 8: guard band w = r U, U = 2 u; one-sided")
@pytest.mark.parametrize(
    ("factor", "published"),
    [(1.0, 0.9772), (1.645 / 2, 0.95), (0.0, 0.5)],
)
def test_at_the_acceptance_limit_conformance_is_what_the_guard_band_is_for(
    factor: float, published: float
) -> None:
    """The acceptance limit for r = 1 leaves Phi(2), w = 1.645 u leaves 0.95, none leaves 0.5."""
    u, limit, rule = 0.2, Limit(3.0, None), DecisionRule(guard_factor=factor)
    at = limit.moved_in(rule.guard(u))["low"]
    assert at is not None
    found = exactly(at, u, limit, rule)
    assert found.probability == pytest.approx(published, abs=0.0015)  # the draws' own scatter


@pytest.mark.memory(source="JCGM 106:2012, clause 8: guarded acceptance and guarded rejection")
def test_guard_bands_ask_for_more_before_a_yes_and_before_a_no() -> None:
    """With r = 1 and u = 0.2 the acceptance limit is 3.4 mm, the rejection limit 2.6 mm."""
    limit, rule = Limit(3.0, None), DecisionRule(guard_factor=1.0)
    said = {value: exactly(value, 0.2, limit, rule).verdict for value in (2.59, 2.61, 3.39, 3.41)}
    assert said == {
        2.59: "does_not_support",
        2.61: "undecided",
        3.39: "undecided",
        3.41: "supports",
    }
    bare = {v: exactly(v, 0.2, limit, DecisionRule()).verdict for v in (2.61, 3.39)}
    assert bare == {2.61: "does_not_support", 3.39: "supports"}


@pytest.mark.memory(source="JCGM 106:2012, speed example: 100 km/h, u = 2 %, rejection at 99.9 %")
def test_a_speed_is_rejected_from_107_km_per_h() -> None:
    """106.59 km/h by computation, printed as 107: below it no 99.9 % is reached, above it is."""
    rule, limit = DecisionRule(fails_to=0.001), Limit(None, 100.0)
    assert decision(107.0, 0.02 * 107.0, limit, rule).verdict == "does_not_support"
    assert decision(106.2, 0.02 * 106.2, limit, rule).verdict != "does_not_support"


@pytest.mark.memory(source="JCGM 106:2012, 7.4 (diode 0.92) and oil (0.66): specific risks")
@pytest.mark.parametrize(
    ("value", "u", "limit", "conforms"),
    [(-5.47, 0.05, Limit(None, -5.4), 0.92), (13.6, 1.8, Limit(12.5, 16.3), 0.66)],
)
def test_the_specific_risks_are_those_of_a_yes_and_of_a_no(
    value: float, u: float, limit: Limit, conforms: float
) -> None:
    found = decision(value, u, limit, DecisionRule())
    assert found.risk_wrong_yes == pytest.approx(1.0 - conforms, abs=0.006)
    assert found.risk_wrong_no == pytest.approx(conforms, abs=0.006)


def foreseen_risks(
    edges: np.ndarray, cdf: np.ndarray, u: float, limit: Limit, acceptance: Limit
) -> tuple[float, Risks]:
    """Return how much is out of tolerance, and the global risks of a prior given by its cdf."""
    at, mass = (edges[1:] + edges[:-1]) / 2, np.diff(cdf)
    holds = limit.contains(at)
    belief = Belief(at, mass / mass.sum(), (mass / mass.sum() * holds)[:, None])
    then = foresee(belief, u, FINE)
    yes = acceptance.contains(then.reading)
    return 1.0 - float(belief.sums.sum()), global_risks(then.chance, then.means[:, 0], yes, ~yes)


BEARING_EDGES = np.linspace(0.0, 8.0, 4001)


def bearing(acceptance_um: float) -> tuple[float, Risks]:
    """Return JCGM 106's bearings: gamma prior (4, rate 4 per um), limit 2 um, u 0.25 um."""
    cdf = gamma(4, scale=1 / 4).cdf(BEARING_EDGES)
    return foreseen_risks(BEARING_EDGES, cdf, 0.25, Limit(None, 2.0), Limit(None, acceptance_um))


@pytest.mark.published(
    source="JCGM 106:2012, as repeated by an uncertainty package's notebook", where="9.5.4"
)
def test_the_bearings_of_9_5_4() -> None:
    """Printed: 4.2 % out of tolerance, consumer's risk 0.8 %; at 1.67 um consumer's risk 0.1 %."""
    outside, simple = bearing(2.0)
    assert outside == pytest.approx(0.042380, abs=0.00005)
    assert simple.wrong_yes == pytest.approx(0.0080191, abs=0.00005)
    _, guarded = bearing(1.671829)
    assert guarded.wrong_yes == pytest.approx(0.001, abs=0.00002)
    assert guarded.wrong_no == pytest.approx(0.0755, abs=0.0003)


def normal_risks(sigma: float, u: float, guard: float) -> Risks:
    edges = np.linspace(-7.0 * sigma, 7.0 * sigma, 4001)
    limit = Limit(-1.0, 1.0)
    inside = limit.moved_in(guard)
    acceptance = Limit(inside["low"], inside["high"])
    return foreseen_risks(edges, norm.cdf(edges / sigma), u, limit, acceptance)[1]


CASES = [(1.19, 0.125, 0.0), (0.78, 0.125, 0.05), (0.51, 0.25, 0.1), (0.39, 0.125, 0.0)]


@pytest.mark.published(
    source="scipy.stats.multivariate_normal, the bivariate normal distribution", where="cdf"
)
@pytest.mark.parametrize(("sigma", "u", "guard"), CASES)
def test_global_risks_of_a_normal_prior_are_those_of_the_bivariate_normal(
    sigma: float, u: float, guard: float
) -> None:
    """Value and reading are jointly normal; the risks are what lies in two strips."""
    both = multivariate_normal([0, 0], [[sigma**2, sigma**2], [sigma**2, sigma**2 + u**2]])
    accept = 1.0 - guard

    def within(half_value: float, half_reading: float) -> float:
        return float(both.cdf([half_value, half_reading], lower_limit=[-half_value, -half_reading]))

    far = 9.0 * sigma
    found = normal_risks(sigma, u, guard)
    # Half a step of the grid of readings, at both limits, times the density there.
    assert found.wrong_yes == pytest.approx(within(far, accept) - within(1, accept), abs=4e-4)
    assert found.wrong_no == pytest.approx(within(1, far) - within(1, accept), abs=4e-4)


@pytest.fixture(scope="module")
def suncal_risk() -> ModuleType:
    """Return suncal's risk functions (GPL-3, so for tests only), or skip."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it imports scipy.odr, which scipy has deprecated
        return pytest.importorskip(
            "suncal.risk",
            reason="suncal isn't installed: pip install 'suncal>=1.7.1,<2' for this oracle",
            exc_type=ImportError,
        )


@pytest.mark.published(source="suncal 1.7.1, risk.PFA and risk.PFR", where="global risks")
@pytest.mark.parametrize(("sigma", "u", "guard"), CASES)
def test_global_risks_agree_with_suncal(
    suncal_risk: ModuleType, sigma: float, u: float, guard: float
) -> None:
    prior, test = norm(0, sigma), norm(0, u)
    found = normal_risks(sigma, u, guard)
    # Simpson's rule there, bins here: they differ by 1e-4 where the prior is wide.
    yes, no = (f(prior, test, -1, 1, guard, guard) for f in (suncal_risk.PFA, suncal_risk.PFR))
    assert found.wrong_yes == pytest.approx(yes, abs=4e-4)
    assert found.wrong_no == pytest.approx(no, abs=4e-4)


@pytest.mark.published(source="suncal 1.7.1, risk.specific_risk", where="total")
@pytest.mark.parametrize(
    ("value", "u", "low", "high"), [(3.2, 0.3, 3.0, 90.0), (4.6, 0.4, 4.5, 10.0), (7.0, 2.0, 5, 9)]
)
def test_the_risk_of_a_wrong_yes_agrees_with_suncal(
    suncal_risk: ModuleType, value: float, u: float, low: float, high: float
) -> None:
    found = decision(value, u, Limit(low, high), DecisionRule())
    expected = suncal_risk.specific_risk(norm(value, u), low, high).total
    assert found.risk_wrong_yes == pytest.approx(expected, abs=0.003)  # 400 000 draws
