"""Posts under uncertainty: the rule, the runner-up, and when no length is clearly right."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from assess.criteria import DEFAULT_CRITERIA, Limit
from assess.marks import PostStock
from assess.post_wording import EXPECTED, chosen_post_sentence, no_post_sentence
from assess.posts import NoPost, PostChoice, choose_post, default_stock, inch_name
from calibration.quantity import Quantity

LIMITS = DEFAULT_CRITERIA.limits
FIRST, LATER, POST = (LIMITS[name] for name in ("spare_initial", "spare_downsized", "post"))


def channel(value: float, u: float) -> np.ndarray:
    draws = np.random.default_rng(7).standard_normal(100_000)
    return value + u * (draws - draws.mean()) / draws.std()


def chosen(value: float, u: float, window: Limit = FIRST, stock: object = None) -> PostChoice:
    found = choose_post(channel(value, u), stock or default_stock(), window, POST)  # type: ignore[arg-type]
    assert isinstance(found, PostChoice)
    return found


@pytest.mark.parametrize("value", [4.6, 5.5, 7.0, 9.3])
@pytest.mark.parametrize("u", [0.15, 0.4])
@pytest.mark.parametrize("window", [FIRST, LATER])
def test_probabilities_are_those_of_the_normal(value: float, u: float, window: Limit) -> None:
    found = choose_post(channel(value, u), default_stock(), window, POST)
    for option in found.options:
        low, high = (option.length_mm - value - side for side in (window.high, window.low))
        expected = norm.cdf(high / u) - norm.cdf(low / u)
        assert option.probability == pytest.approx(expected, abs=0.006)  # 100 000 draws


@pytest.mark.parametrize("value", np.arange(4.0, 11.0, 0.37).tolist())
def test_the_choice_is_the_stock_s_likeliest_if_its_mean_spare_is_wanted(value: float) -> None:
    for window in (FIRST, LATER):
        found = choose_post(channel(value, 0.35), default_stock(), window, POST)
        best = max(found.options, key=lambda option: option.probability)
        wanted = bool(window.contains(best.length_mm - value))
        assert isinstance(found, PostChoice) is wanted
        if isinstance(found, PostChoice):
            assert found.probability == best.probability
            second = found.runner_up
            assert second is None or second.probability <= found.probability
            assert second is None or second.length_mm != found.length_mm


def test_a_post_of_another_gauge_and_the_same_length_is_no_runner_up() -> None:
    stock = [PostStock(gauge_mm=g, lengths_mm=(9.525, 10.31875)) for g in (1.2, 1.3)]
    found = chosen(7.0, 0.3, stock=stock)
    assert found.runner_up is not None
    assert found.runner_up.length_mm != found.length_mm


def test_no_post_in_stock_names_the_multiple_of_1_32_in_to_order() -> None:
    stock = [PostStock(gauge_mm=1.2, lengths_mm=(6.35, 19.05))]
    found = choose_post(channel(7.0, 0.3), stock, FIRST, POST)
    assert isinstance(found, NoPost)
    assert inch_name(found.order_length_mm)
    assert bool(FIRST.contains(found.order_length_mm - 7.0))
    assert found.order_probability > 0.9
    said = no_post_sentence(found, later=False)
    assert inch_name(found.order_length_mm) in said
    assert "if this studio's limits are right" in said


def test_the_wrong_diameter_is_not_chosen() -> None:
    stock = [PostStock(gauge_mm=1.6, lengths_mm=(9.525,))]
    found = choose_post(channel(7.0, 0.3), stock, FIRST, POST)
    assert isinstance(found, NoPost)
    assert "diameter" in found.reason


@pytest.mark.practice("common practice, no source")
def test_a_narrow_window_and_an_unsure_channel_leave_no_length_clearly_right() -> None:
    """A window of 1.0 mm, lengths every 0.8 mm, and the channel known to 0.8 mm (k = 2)."""
    found, length = chosen(7.0, 0.4, LATER), Quantity.from_draws(channel(7.0, 0.4), "mm")
    assert not found.clear
    said = chosen_post_sentence(found, length, later=True)
    assert "No length is clearly right" in said
    assert "0.3 to 1.3 mm" in said
    assert "± 0.8 mm" in said
    assert "Next best" in said


def test_a_channel_that_is_well_known_has_a_length_clearly_right() -> None:
    found, length = chosen(7.0, 0.15), Quantity.from_draws(channel(7.0, 0.15), "mm")
    assert found.clear
    assert "clearly" not in chosen_post_sentence(found, length, later=False)


@pytest.mark.parametrize("value", [7.0, 30.0])
def test_after_downsizing_is_always_said_to_be_expected(value: float) -> None:
    draws = channel(value, 0.2)
    found = choose_post(draws, default_stock(), LATER, POST)
    said = (
        no_post_sentence(found, later=True)
        if isinstance(found, NoPost)
        else chosen_post_sentence(found, Quantity.from_draws(draws, "mm"), later=True)
    )
    assert said.startswith(EXPECTED)
    assert "measured again at that visit" in said
