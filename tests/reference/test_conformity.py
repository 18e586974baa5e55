"""Conformance probabilities against JCGM 106:2012, draws against JCGM 101:2008."""

import pytest

from assess.criteria import DEFAULT_CRITERIA, Criteria, Limit
from assess.verdict import decide
from calibration.draws import Draws
from calibration.quantity import Quantity

DRAWS = Draws(seed=1, count=400_000)


def conformance(value: float, u: float, low: float | None, high: float | None) -> float:
    """Return the probability that the program gives for one criterion."""
    limits = {**DEFAULT_CRITERIA.limits, "channel": Limit(low, high)}
    draws = value + u * DRAWS.normal("measurand")
    decision = decide({"channel": draws}, "firm", Criteria("test", "1", limits))
    (reason,) = [r for r in decision.reasons if r.criterion == "channel"]
    assert reason.probability is not None
    return reason.probability


@pytest.mark.memory(source="JCGM 106:2012, 7.4 and two-sided examples")
@pytest.mark.parametrize(
    ("value", "u", "low", "high", "published"),
    [
        (-5.47, 0.05, None, -5.4, 0.92),
        (509.7, 8.6, 490.0, None, 0.99),
        (13.6, 1.8, 12.5, 16.3, 0.66),
    ],
)
def test_conformance_probability(
    value: float, u: float, low: float | None, high: float | None, published: float
) -> None:
    # Half of the last printed digit; the draws add 0.001 at most.
    assert conformance(value, u, low, high) == pytest.approx(published, abs=0.006)


@pytest.mark.memory(source="JCGM 106:2012, Table 1")
@pytest.mark.parametrize(
    ("z", "published"), [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99)]
)
def test_one_sided_table(z: float, published: float) -> None:
    assert conformance(z, 1.0, 0.0, None) == pytest.approx(published, abs=0.0025)


@pytest.mark.published(source="JCGM 101:2008, as repeated by an uncertainty package", where="9.2.2")
def test_four_normals_have_u_2_and_their_interval() -> None:
    total = sum(DRAWS.normal(f"x{i}") for i in range(4))
    quantity = Quantity.from_draws(total, "1")
    # Printed 2.0 and +-3.92; the draws' own scatter at 400 000 is 0.01.
    assert quantity.u == pytest.approx(2.0, abs=0.05)
    assert (quantity.low, quantity.high) == pytest.approx((-3.92, 3.92), abs=0.02)


@pytest.mark.published(source="JCGM 100:2008", where="5.2.2, correlated inputs add linearly")
def test_shared_inputs_combine_by_name() -> None:
    # 4 mm + 8 mm that share 1 % of scale and have 0.05 mm each of their own: by hand
    # sqrt((12 * 0.01)^2 + 2 * 0.05^2) = 0.1393; treated as independent it would be 0.114.
    scale = 1 + 0.01 * DRAWS.normal("scale")
    first = 4 * scale + 0.05 * DRAWS.normal("first")
    second = 8 * (1 + 0.01 * DRAWS.normal("scale")) + 0.05 * DRAWS.normal("second")
    assert float((first + second).std()) == pytest.approx(0.1393, abs=0.001)
