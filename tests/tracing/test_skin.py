"""What is learned of skin and of what lies behind it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from calibration.frames import Array
from tracing import skin

ROWS = 400


def band(mean: list[float], sd: list[float], seed: int) -> Array:
    rng = np.random.default_rng(seed)
    return np.asarray(mean + np.array(sd) * rng.standard_normal((ROWS, 30, len(mean))))


def test_a_side_looks_as_it_was_drawn() -> None:
    found = skin.looks(band([-1.0, 0.3, -0.2], [0.2, 0.05, 0.02], 1), None, 40.0)
    np.testing.assert_allclose(found.mean[ROWS // 2, 0], [-1.0, 0.3, -0.2], atol=0.01)
    spread = np.sqrt(np.diagonal(found.spread[ROWS // 2]))
    np.testing.assert_allclose(spread, [0.2, 0.05, 0.02], rtol=0.05)


def test_an_even_change_across_is_no_spread_and_goes_on_a_little() -> None:
    across = np.linspace(-1.5, 1.5, 31)
    drawn = np.tile(-1.0 - 0.5 * across[None, :, None], (ROWS, 1, 3))
    found = skin.looks_across(drawn, slice(0, 14), across, 10.0)
    np.testing.assert_allclose(found.mean[5, across < skin.BEND_MM, 0], drawn[5, :17, 0])
    np.testing.assert_allclose(found.mean[5, -1, 0], -1.0 - 0.5 * skin.BEND_MM)
    np.testing.assert_allclose(found.spread, 0.0, atol=1e-12)


def test_the_likelier_side_is_that_of_two_normal_distributions() -> None:
    """Against scipy.stats.multivariate_normal."""
    one, other = np.diag([0.04, 0.01, 0.02]), np.diag([0.2, 0.03, 0.02])
    means = np.array([-1.0, 0.3, -0.2]), np.array([-1.3, 0.2, -0.1])
    seen = band([-1.1, 0.25, -0.15], [0.1, 0.05, 0.05], 2)
    sides = [
        skin.Looks(np.tile(m, (ROWS, 1, 1)), np.tile(c, (ROWS, 1, 1)))
        for m, c in zip(means, (one, other), strict=True)
    ]
    ratio = multivariate_normal(means[0], one).logpdf(seen) - multivariate_normal(
        means[1], other
    ).logpdf(seen)
    np.testing.assert_allclose(
        skin.likelier_skin(seen, *sides), np.clip(ratio, -skin.SURE, skin.SURE), atol=1e-9
    )


def test_an_edge_gains_from_both_sides_within_the_window() -> None:
    across = np.arange(-30, 31) * 0.1
    likelier = np.where(across < 0.55, 1.0, -1.0)[None]
    places = np.array([0.0, 0.6, 1.0])
    gain = skin.edge_gain(likelier, across, places, 1.0)
    np.testing.assert_allclose(gain[0], [2 - 2 * 0.55, 2 - 0.1, 2 - 2 * 0.45], atol=0.02)


@pytest.mark.parametrize(
    ("mean", "grain", "other"),
    [
        ([-2.0, 0.3, -0.2, 0.0], 0.015, False),
        ([-1.4, 0.42, -0.28, 0.0], 0.015, False),
        ([-1.0, 0.3, -0.2, 0.0], 0.12, True),
        ([-1.0, 0.1, 0.1, 0.0], 0.015, True),
        ([-3.5, 0.3, -0.2, 0.0], 0.12, True),
    ],
    ids=["shade", "a shadow's red border", "grain", "colour", "dark hair"],
)
def test_shade_and_its_red_border_are_skin_grain_and_colour_are_not(
    mean: list[float], grain: float, other: bool
) -> None:
    sd = [0.05, 0.02, 0.02]
    rim = skin.looks(band([-1.0, 0.3, -0.2, 0.0], [*sd, 0.015], 3), None, 40.0)
    behind = skin.looks(band(mean, [*sd, grain], 4), None, 40.0)
    assert bool((skin.unlike_skin(rim, behind) >= 1.0).all()) is other
    assert bool((skin.unlike_skin(rim, behind) < 1.0).all()) is not other
