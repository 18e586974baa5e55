"""Calipers and photo together: the weighted mean, whether they agree, what pressing brings."""

from __future__ import annotations

import numpy as np
import pytest

from assess.budget import Line
from assess.caliper_wording import disagreement_sentence, pressing_sentence
from assess.channel import CALIPER_LINES, Axis, Channel, combine
from assess.criteria import DEFAULT_CRITERIA
from assess.marks import CaliperMarks
from assess.posts import PostChoice, choose_post, default_stock
from calibration.draws import Draws

DRAWS = Draws(seed=1, count=100_000)


def mark(variance: float) -> Line:
    return Line("mark of the entry", variance, "normal", np.inf, "measured", "invented")


def by_photo(value: float, u: float) -> Axis:
    seen = value + u * DRAWS.normal("seen")
    zero = np.zeros(DRAWS.count)
    return Axis(seen, None, zero, np.zeros((DRAWS.count, 3)), (mark(u**2),))


def joined(photo: tuple[float, float] | None, caliper: tuple[float, float]) -> Channel:
    reading = CaliperMarks(channel_mm=caliper[0], u_channel_mm=caliper[1])
    found = combine(by_photo(*photo) if photo else None, reading, "A", DRAWS)
    assert found is not None
    return found


@pytest.mark.published(source="JCGM 100:2008; least squares", where="weights one over variance")
def test_the_weighted_mean_and_its_uncertainty() -> None:
    """By hand: (7.0 / 0.16 + 6.4 / 0.09) / (1 / 0.16 + 1 / 0.09) = 6.616; u = 0.24."""
    found = joined((7.0, 0.4), (6.4, 0.3))
    assert found.draws.mean() == pytest.approx(6.616, abs=0.003)
    assert found.draws.std() == pytest.approx(0.24, abs=0.002)
    assert found.method == "caliper"
    assert sum(found.parts_mm2.values()) == pytest.approx(0.24**2, rel=0.01)


@pytest.mark.memory(source="chi-squared table: one degree of freedom, 5 % level: 3.841")
def test_the_difference_is_tested_at_the_5_per_cent_level() -> None:
    agreement = joined((7.0, 0.4), (6.4, 0.3)).agreement
    assert agreement is not None
    assert agreement.critical == pytest.approx(3.841, abs=0.0005)
    assert agreement.chi_squared == pytest.approx(0.6**2 / 0.25, rel=0.02)
    assert agreement.agrees


@pytest.mark.parametrize(("gap", "agrees"), [(0.95, True), (1.02, False)])
def test_beyond_1_96_times_its_u_a_difference_is_said_and_no_u_grows(
    gap: float, agrees: bool
) -> None:
    """u of the difference is 0.5 mm, so 0.98 mm is the most that is allowed."""
    found = joined((7.0, 0.4), (7.0 - gap, 0.3))
    assert found.agreement is not None
    assert found.agreement.agrees is agrees
    assert found.draws.std() == pytest.approx(0.24, abs=0.002)
    said = disagreement_sentence(found.agreement)
    if agrees:
        assert said is None
    else:
        assert said is not None
        for words in ("7.0 mm, between 6.2 and 7.8 by the photo", "by calipers", "measure both"):
            assert words in said


@pytest.mark.parametrize("seed", range(3))
def test_values_that_agree_are_said_to_disagree_once_in_twenty(seed: int) -> None:
    rng = np.random.default_rng(seed)
    few = Draws(seed, 4000)
    wrong = 0
    for _ in range(300):
        seen = 7.0 + 0.4 * rng.standard_normal() + 0.4 * few.normal("seen")
        axis = Axis(seen, None, seen, np.zeros((few.count, 3)), (mark(0.16),))
        read = CaliperMarks(channel_mm=7.0 + 0.3 * rng.standard_normal(), u_channel_mm=0.3)
        found = combine(axis, read, "A", few)
        wrong += found is not None and found.agreement is not None and not found.agreement.agrees
    assert 3 <= wrong <= 31  # 15 expected; beyond four standard deviations otherwise


def test_calipers_alone_are_as_read_pressing_takes_nothing_off() -> None:
    found = joined(None, (6.4, 0.3))
    assert found.draws.mean() == pytest.approx(6.4, abs=0.004)
    assert found.draws.std() == pytest.approx(0.3, abs=0.003)
    assert (found.method, found.agreement) == ("caliper", None)


@pytest.mark.parametrize("u", [0.05, 0.1, 0.2, 0.3, 1.0])
def test_pressing_is_a_line_of_the_stated_u_and_adds_nothing_to_it(u: float) -> None:
    parts = joined(None, (6.4, u)).parts_mm2
    assert tuple(parts) == CALIPER_LINES
    assert sum(parts.values()) == pytest.approx(u**2)
    pressed = parts["tissue pressed by the calipers"]
    assert pressed == pytest.approx(min(0.1**2, u**2 / 2))


def test_a_u_smaller_than_pressing_alone_is_doubted() -> None:
    assert pressing_sentence(0.1) is None
    assert "0.05 mm" in (pressing_sentence(0.05) or "")


def spare_u(channel: np.ndarray) -> float:
    limits = DEFAULT_CRITERIA.limits
    chosen = choose_post(channel, default_stock(), limits["spare_initial"], limits["post"])
    assert isinstance(chosen, PostChoice)
    return float(chosen.spare_draws.std())


@pytest.mark.parametrize("value", [5.0, 6.3, 7.0, 8.8])
def test_more_noise_never_gives_a_smaller_u_of_the_spare_length(value: float) -> None:
    noisy = [0.1, 0.15, 0.22, 0.33, 0.5]
    grid = [[spare_u(joined((value, p), (value, c)).draws) for c in noisy] for p in noisy]
    assert (np.diff(grid, axis=0) > 0).all()  # a worse photo
    assert (np.diff(grid, axis=1) > 0).all()  # worse calipers
    single = [spare_u(by_photo(value, u).channel_mm) for u in noisy]
    assert single == sorted(single)
