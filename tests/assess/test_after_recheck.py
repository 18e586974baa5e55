"""What follows a second visit's measurement: spare length left, downsizing, drift, their words."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA
from assess.downsizing import downsizing
from assess.posts import NoPost, default_stock
from assess.recheck_result import no_spare_probability
from assess.recheck_words import downsizing_sentences, trend_sentence
from assess.trend import Seen, TrendError, trend
from assess.visit_signs import asked_by


def test_a_post_without_spare_length_is_known_from_the_channels_draws() -> None:
    channel = np.random.default_rng(1).normal(8.0, 0.4, 20_000)
    assert no_spare_probability(9.525, channel) < 0.001
    tight = no_spare_probability(7.9375, channel)
    assert 0.5 < tight < 0.6


def test_downsizing_takes_todays_channel_and_says_what_was_planned() -> None:
    channel = np.random.default_rng(2).normal(7.0, 0.2, 20_000)
    found = downsizing(
        channel,
        default_stock(),
        DEFAULT_CRITERIA,
        (),
        worn_mm=10.31875,
        planned_mm=8.73125,
    )
    assert not isinstance(found.choice, NoPost)
    # 5/16 in leaves 0.94 mm of 7.0, in the middle of 0.3 to 1.3; 11/32 in would leave 1.7.
    assert found.choice.length_mm == pytest.approx(7.9375)
    assert found.shorter
    assert found.as_planned is False
    assert not found.waits
    said = " ".join(downsizing_sentences(found))
    assert "5/16 in" in said
    assert "11/32 in" in said
    swollen = downsizing(channel, default_stock(), DEFAULT_CRITERIA, asked_by(["swollen"]))
    assert swollen.waits
    assert "waits" in downsizing_sentences(swollen)[0]


START = date(2026, 11, 20)


def seen(*values: float, u: float = 0.5, u_common: float = 0.0) -> list[Seen]:
    return [
        Seen(START + timedelta(days=45 * (i + 1)), value, u, u_common)
        for i, value in enumerate(values)
    ]


def test_a_drift_is_said_with_its_speed_and_no_diagnosis() -> None:
    found = trend(START, seen(1.5, 3.0, 4.4))
    assert found.said
    assert found.low < found.per_month < found.high
    said = trend_sentence(found, "tilt of A", "°")
    assert "1.00° a month" in said
    assert "no diagnosis" in said
    assert not any(word in said.lower() for word in ("reject", "migrat", "infect"))


def test_what_scatters_is_no_drift() -> None:
    found = trend(START, seen(0.4, -0.5, 0.2))
    assert not found.said
    assert "no drift that can be told" in trend_sentence(found, "tilt of A", "°")


def test_one_baseline_in_all_visits_makes_a_drift_less_sure() -> None:
    alone, shared = (trend(START, seen(0.9, 0.9, 1.0, u_common=u)) for u in (0.0, 0.8))
    assert shared.u > 1.3 * alone.u


def test_a_drift_is_said_falsely_in_few_of_many_still_posts() -> None:
    rng = np.random.default_rng(11)
    said = [
        trend(START, seen(*(0.3 * rng.normal() + 0.5 * rng.normal(size=3)), u_common=0.3)).said
        for _ in range(2000)
    ]
    # One-sided 0.95 on either side: one in ten of what is still.
    assert 0.08 < np.mean(said) < 0.12


@pytest.mark.parametrize("days", [(45,), (45, 45), (-3, 45)])
def test_a_trend_wants_three_visits_on_days_of_their_own(days: tuple[int, ...]) -> None:
    visits = [Seen(START + timedelta(days=d), 1.0, 0.5) for d in days]
    with pytest.raises(TrendError):
        trend(START, visits)
