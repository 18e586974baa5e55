"""The chart of a number over the visits: its scale, and what is read aloud in its stead."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from assess.recheck_series import Point, followups
from rimspan.screens.trend_svg import MOST_STEPS, chart, round_ticks

START = date(2026, 10, 4)


def test_the_scale_has_few_round_numbers_that_hold_all() -> None:
    rng = np.random.default_rng()
    for _ in range(500):
        low, high = sorted(rng.normal(scale=10.0 ** rng.uniform(-1, 2), size=2))
        low, high = min(0.0, float(low)), max(0.0, float(high))
        ticks = round_ticks(low, high)
        assert ticks[0] <= low + 1e-9
        assert ticks[-1] >= high - 1e-9
        assert min(abs(each) for each in ticks) < 1e-9
        assert 2 <= len(ticks) <= MOST_STEPS + 1
        steps = np.diff(ticks)
        assert steps == pytest.approx(steps[0])
        first = steps[0] / 10.0 ** np.floor(np.log10(steps[0]) + 1e-9)
        assert first == pytest.approx(min((1.0, 2.0, 5.0), key=lambda each: abs(each - first)))


@pytest.mark.parametrize(("followed", "unit"), [("tilt", "°"), ("entry", " mm")])
def test_every_visits_number_is_read_aloud_with_its_u(followed: str, unit: str) -> None:
    """U = 1.96 u: 2.9 of 1.5, with the digits that u supports."""
    visits = [
        (START + timedelta(weeks=weeks), [Point(followed, value, 1.5, 0.5)])  # type: ignore[arg-type]
        for weeks, value in ((6, 4.0), (14, 9.0))
    ]
    (found,) = followups(START, visits)
    drawn = chart(found)
    assert f"4.0{unit} ± 2.9{unit} at 6 weeks; 9.0{unit} ± 2.9{unit} at 14 weeks" in drawn
    assert "over 2 visits since the baseline" in drawn
    assert drawn.count("<circle") == 2
    assert (">mm<" in drawn) == (unit == " mm")
