"""Draws by name: the same name the same draws, everything else independent."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from calibration.draws import Draws

MANY = Draws(1, 50_000)
ALPHA = 1e-3
"""Of each test of independence; the seeds are fixed, so a pass stays a pass."""


def assert_unrelated(a: np.ndarray, b: np.ndarray) -> None:
    """Assert that two rows of draws share no number and don't correlate."""
    assert not np.isin(a, b).any()
    r = float(np.corrcoef(a, b)[0, 1])
    assert abs(r) * np.sqrt(len(a)) < 3.29  # two-sided normal quantile of ALPHA


def test_the_same_name_gives_the_same_draws() -> None:
    first, second = (Draws(7, 1000).normal("rim tilt", 2) for _ in range(2))
    np.testing.assert_array_equal(first, second)
    assert first.shape == (1000, 2)
    assert Draws(7, 1000).normal("rim tilt").shape == (1000,)


def test_more_components_leave_the_first_ones_as_they_were() -> None:
    np.testing.assert_array_equal(MANY.normal("lens", 8)[:, :3], MANY.normal("lens", 3))


@pytest.mark.parametrize(
    ("a", "b"),
    list(
        itertools.combinations(
            [
                MANY,
                Draws(2, MANY.count),
                Draws(1, MANY.count, batch=1),
                Draws(1, MANY.count, batch=2),
                Draws(1, MANY.count, visit="first"),
                Draws(1, MANY.count, visit="second"),
                Draws(1, MANY.count, visit="second", batch=1),
            ],
            2,
        )
    ),
)
def test_seeds_visits_and_batches_are_unrelated(a: Draws, b: Draws) -> None:
    rows = [d.generator("scale").standard_normal(d.count) for d in (a, b)]
    assert_unrelated(*rows)


def test_names_are_unrelated() -> None:
    assert_unrelated(MANY.normal("mark: entry"), MANY.normal("mark: exit"))
    assert_unrelated(*MANY.normal("mark: entry", 2).T)


def test_what_visits_share_is_the_same_at_both() -> None:
    rows = [
        Draws(1, 1000, visit).generator("print scale", shared=True).standard_normal(1000)
        for visit in ("", "first", "second")
    ]
    np.testing.assert_array_equal(rows[0], rows[1])
    np.testing.assert_array_equal(rows[1], rows[2])


def test_a_visit_s_name_never_runs_into_an_input_s() -> None:
    """A visit ``a`` with the input ``b: c`` isn't a visit ``a: b`` with the input ``c``."""
    one = Draws(1, 1000, "a").generator("b: c").standard_normal(1000)
    two = Draws(1, 1000, "a: b").generator("c").standard_normal(1000)
    plain = Draws(1, 1000).generator("a: b: c").standard_normal(1000)
    assert not np.isin(one, two).any()
    assert not np.isin(one, plain).any()
