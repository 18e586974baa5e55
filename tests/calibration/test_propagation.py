"""First-order and Monte Carlo propagation on models whose answer is known exactly."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from scipy import stats

from calibration.draws import Draws
from calibration.first_order import FirstOrder, first_order, welch_satterthwaite
from calibration.inputs import RECTANGULAR, Input, root_of, student
from calibration.monte_carlo import (
    CHUNK,
    LEAST_BATCH,
    LEAST_BATCHES,
    adaptive,
    propagate,
    tolerance,
)

Values = Mapping[str, np.ndarray]

PAIR = (Input.scalar("a", 2.0, 0.3), Input.scalar("b", 5.0, 0.4, dof=6.0))


def add(values: Values) -> np.ndarray:
    return values["a"][0] + 2.0 * values["b"][0]


def test_a_sum_has_the_root_of_the_squares() -> None:
    (out,) = first_order(add, PAIR)
    assert out.value == pytest.approx(12.0)
    assert out.u == pytest.approx(np.sqrt(0.09 + 0.64))
    assert out.variances == pytest.approx({"a": 0.09, "b": 0.64})
    assert out.dof == pytest.approx(0.73**2 / (0.64**2 / 6.0))
    assert sum(out.variances.values()) == pytest.approx(out.u**2)


def test_several_outputs_and_a_joint_input() -> None:
    covariance = np.array([[1.0, 0.5], [0.5, 2.0]])
    joint = Input("xy", "xy", np.array([3.0, 4.0]), root_of(covariance))

    def model(values: Values) -> np.ndarray:
        x, y = values["xy"]
        return np.stack([x * y, x - y, np.hypot(x, y)])

    outs = first_order(model, [joint])
    gradients = np.array([[4.0, 3.0], [1.0, -1.0], [0.6, 0.8]])
    for out, gradient in zip(outs, gradients, strict=True):
        assert out.u == pytest.approx(np.sqrt(gradient @ covariance @ gradient), rel=1e-6)


def test_expanded_uses_the_truncated_degrees_of_freedom() -> None:
    out = FirstOrder(0.0, 2.0, 16.75, {})
    assert out.expanded(0.99) == pytest.approx(2.0 * stats.t(16).ppf(0.995))
    rounded = FirstOrder(0.0, 2.0, np.nextafter(16.0, 0.0), {})  # 16 but for the rounding
    assert rounded.expanded(0.99) == pytest.approx(out.expanded(0.99))
    assert FirstOrder(0.0, 1.0, np.inf, {}).expanded() == pytest.approx(1.95996, abs=1e-5)
    assert FirstOrder(0.0, 1.0, 0.4, {}).expanded() == pytest.approx(12.706, abs=1e-3)


def test_nothing_uncertain_has_endless_degrees_of_freedom() -> None:
    (out,) = first_order(add, (Input.scalar("a", 2.0, 0.0), Input.scalar("b", 5.0, 0.0, dof=3.0)))
    assert (out.u, out.dof) == (0.0, np.inf)


def test_one_input_alone_keeps_its_degrees_of_freedom() -> None:
    entry = Input.scalar("a", 0.0, 1.0, student(7))
    assert welch_satterthwaite(np.array([3.3]), [entry]) == pytest.approx(7.0)


def test_chunks_are_joined_without_a_seam() -> None:
    draws = Draws(1, 2 * CHUNK + 17)
    whole = add({entry.name: entry.draw(draws) for entry in PAIR})
    np.testing.assert_array_equal(propagate(add, PAIR, draws)[0], whole)


def test_two_outputs_that_share_an_input_correlate() -> None:
    """4 mm and 8 mm that share 1 % of scale, each with 0.02 mm of its own."""
    inputs = (
        Input.scalar("scale", 1.0, 0.01),
        Input.scalar("p", 4.0, 0.02),
        Input.scalar("q", 8.0, 0.02),
    )

    def model(values: Values) -> np.ndarray:
        scale, p, q = (values[name][0] for name in ("scale", "p", "q"))
        return np.stack([scale * p, scale * q])

    p, q = propagate(model, inputs, Draws(1, 200_000))
    expected = 0.04 * 0.08 / np.hypot(0.04, 0.02) / np.hypot(0.08, 0.02)
    assert np.corrcoef(p, q)[0, 1] == pytest.approx(expected, abs=0.005)
    assert (p + q).std() == pytest.approx(np.sqrt(0.12**2 + 2 * 0.02**2), rel=0.005)


def test_namesakes_are_refused() -> None:
    twins = (*PAIR, Input.scalar("a", 9.0, 1.0))
    with pytest.raises(ValueError, match="got a twice"):
        first_order(add, twins)
    with pytest.raises(ValueError, match="got a twice"):
        propagate(add, twins, Draws(1, 10))


@pytest.mark.parametrize(
    ("u", "digits", "expected"),
    [
        (0.0754, 2, 0.0005),
        (0.0754, 1, 0.005),
        (32.0, 2, 0.5),
        (32.0, 1, 5.0),
        (0.0997, 2, 0.005),  # 0.10 to two digits
        (1.0, 2, 0.05),
        (0.0, 2, 0.0),
    ],
)
def test_tolerance_is_half_of_u_s_last_meaning_digit(u, digits, expected) -> None:
    assert tolerance(u, digits) == pytest.approx(expected)


def test_adaptive_stops_when_it_is_stable_and_says_how_many() -> None:
    found = adaptive(add, PAIR, Draws(1, LEAST_BATCH), digits=1)
    assert found.settled
    assert found.tolerance == 0.05  # u = 0.85
    assert found.draws == LEAST_BATCHES * LEAST_BATCH
    assert 2 * max(found.scatter) <= found.tolerance
    finer = adaptive(add, PAIR, Draws(1, LEAST_BATCH), digits=2)
    assert finer.settled
    assert finer.draws > found.draws
    assert finer.quantity.value == pytest.approx(12.0, abs=2 * finer.tolerance)
    assert finer.quantity.u == pytest.approx(np.sqrt(0.73), abs=2 * finer.tolerance)


def test_adaptive_gives_up_and_says_so() -> None:
    found = adaptive(add, PAIR, Draws(1, LEAST_BATCH), digits=4, most=3)
    assert not found.settled
    assert found.draws == 3 * LEAST_BATCH


def test_the_scatter_of_the_batches_is_the_error_that_is_made() -> None:
    """Over independent runs the mean differs from the truth as its scatter says."""
    flat = (Input.scalar("a", 0.0, 1.0, RECTANGULAR), Input.scalar("b", 0.0, 0.0))
    misses = []
    for seed in range(40):
        found = adaptive(add, flat, Draws(seed, LEAST_BATCH), digits=6, most=12)
        misses.append(found.quantity.value / found.scatter[0])
    # Each is t-like with 11 degrees of freedom: sd 1.11; of 40 of them within 4 standard errors.
    assert np.std(misses) == pytest.approx(1.11, abs=4 * 1.11 / np.sqrt(80))


def test_adaptive_takes_one_output() -> None:
    def two(values: Values) -> np.ndarray:
        return np.stack([values["a"][0], values["b"][0]])

    with pytest.raises(ValueError, match="unpack"):
        adaptive(two, PAIR, Draws(1, LEAST_BATCH))
