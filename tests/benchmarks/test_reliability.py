"""A sample of the seeds' benchmark: the probability scatters as a share of draws does."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest
from scipy import stats

if importlib.util.find_spec("embreex") is None:
    pytest.skip("needs the extra 'samples' (embreex)", allow_module_level=True)

from benchmarks.reliability import Situation, Spread, evidence, situations, spreads
from calibration.draws import Draws

SEEDS, DRAWS = 40, 3000
WANTED = np.array([0.2, 0.5, 0.95])
ERROR_RATE = 0.01
"""Of the whole test, were other seeds taken: shared among its situations and probabilities."""


@pytest.fixture(scope="module")
def found() -> list[Spread]:
    return [s for situation in situations() for s in spreads(situation, WANTED, SEEDS, DRAWS)]


def test_the_probabilitys_scatter_over_the_seeds_is_that_of_a_share_of_draws(
    found: list[Spread],
) -> None:
    """(n - 1) s² / sigma² follows chi-squared with n - 1 degrees of freedom (a share is nearly
    normal at these probabilities)."""
    low, high = stats.chi2.ppf(
        [ERROR_RATE / 2 / len(found), 1 - ERROR_RATE / 2 / len(found)], SEEDS - 1
    )
    for spread in found:
        assert low < (SEEDS - 1) * spread.ratio**2 < high, spread.situation


def test_the_limits_give_the_wanted_probabilities(found: list[Spread]) -> None:
    for spread, wanted in zip(found, np.tile(WANTED, len(found) // len(WANTED)), strict=True):
        assert spread.probability == pytest.approx(wanted, abs=5 * np.sqrt(0.25 / DRAWS))


def test_a_verdict_changes_with_the_seed_only_near_a_threshold(found: list[Spread]) -> None:
    """Seven standard deviations: what 0.005 is at 0.95 with 100,000 draws."""
    near = 7 * np.sqrt(0.95 * 0.05 / DRAWS)
    flipped = [spread for spread in found if spread.flips]
    assert flipped, "none of the limits lay near a threshold, so nothing was tested"
    assert max(spread.nearest for spread in flipped) < near
    assert not [spread for spread in found if spread.flips and spread.nearest > near]


def test_the_same_seed_gives_the_same_evidence() -> None:
    situation: Situation = situations()[0]
    one, two = (evidence(situation, Draws(3, 500)) for _ in range(2))
    for name, draws in one.items():
        np.testing.assert_array_equal(draws, two[name])
