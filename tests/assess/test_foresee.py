"""What a further measurement would tell: against closed forms, and that it moves no expectation."""

from __future__ import annotations

import numpy as np
import pytest

from assess.foresee import Belief, foresee, global_risks

M = 40_000


def drawn(seed: int = 1, value: float = 5.0, u: float = 0.5) -> np.ndarray:
    return value + u * np.random.default_rng(seed).standard_normal(M)


@pytest.mark.parametrize("u", [0.05, 0.3, 2.0])
def test_a_measurement_not_yet_made_moves_nobody_s_expectation(u: float) -> None:
    quantity = drawn()
    other = quantity + drawn(2, 0.0, 0.2)
    features = np.stack([quantity > 4.7, other, other**2], axis=-1).astype(float)
    then = foresee(Belief.of(quantity, features), u)
    assert then.chance.sum() == pytest.approx(1.0)
    assert then.chance @ then.means == pytest.approx(features.mean(axis=0), rel=1e-7)


@pytest.mark.parametrize("u", [0.2, 0.5, 1.0])
def test_a_normal_belief_becomes_what_the_weighted_mean_says(u: float) -> None:
    """Normal and normal: weights one over the variance (JCGM 100:2008, H.; least squares)."""
    quantity = drawn()
    mean, variance = quantity.mean(), quantity.var()
    features = np.stack([quantity, quantity**2], axis=-1)
    then = foresee(Belief.of(quantity, features), u)
    near = np.abs(then.reading - mean) < 1.5 * np.hypot(variance**0.5, u)
    weight = variance / (variance + u**2)
    expected = mean + weight * (then.reading - mean)
    assert then.means[near, 0] == pytest.approx(expected[near], abs=0.03)
    spread = then.means[:, 1] - then.means[:, 0] ** 2
    assert spread[near] == pytest.approx(variance * (1.0 - weight), rel=0.15)


def test_what_goes_with_the_quantity_is_learned_too() -> None:
    """A second quantity that shares half its variance with the one that is read."""
    shared, own = drawn(1, 0.0, 0.5), drawn(2, 0.0, 0.5)
    then = foresee(Belief.of(shared, (shared + own)[:, None]), 0.05)
    at_half = np.interp(0.5, then.reading, then.means[:, 0])
    assert at_half == pytest.approx(0.5, abs=0.05)


def test_risks_count_only_decisions_that_are_made() -> None:
    chance, holds = np.array([0.2, 0.5, 0.3]), np.array([0.1, 0.5, 0.9])
    yes, no = np.array([False, False, True]), np.array([True, False, False])
    found = global_risks(chance, holds, yes, no)
    assert found.wrong_yes == pytest.approx(0.3 * 0.1)
    assert found.wrong_no == pytest.approx(0.2 * 0.1)


def test_nothing_can_be_foreseen_without_a_spread_or_an_uncertainty() -> None:
    with pytest.raises(ValueError, match="must vary"):
        Belief.of(np.full(10, 3.0), np.ones((10, 1)))
    with pytest.raises(ValueError, match="over 0"):
        foresee(Belief.of(drawn(), np.ones((M, 1))), 0.0)
