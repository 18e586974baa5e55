"""The rule by which a piercer's own repeatability takes the place of the assumed one."""

from __future__ import annotations

import doctest
import math

import numpy as np
import pytest

from assess import repeatability
from assess.reading import U_MARK_MM
from assess.repeatability import (
    LEAST_DOF,
    U_DEFINITION_MM,
    MarkSample,
    MarkUncertainty,
    Scatter,
    mark_uncertainty,
    pooled_scatter,
    scatter_by_piercer,
)
from calibration.draws import Draws


def sample(by: str, point: str, number: int, x: float, y: float = 0.0) -> MarkSample:
    return MarkSample(by, "photo", "1", point, number, x, y)


def test_the_examples_of_the_docstrings_hold() -> None:
    assert doctest.testmod(repeatability) == doctest.TestResults(failed=0, attempted=5)


def test_scatter_is_about_each_points_own_mean_on_both_axes() -> None:
    """By hand: x 0, 2 about 1 and y 0, 0; x 10, 11, 12 about 11 and y 1, 1, 4 about 2."""
    marks = [
        sample("A", "entry", 1, 0.0),
        sample("A", "entry", 2, 2.0),
        sample("A", "exit", 1, 10.0, 1.0),
        sample("A", "exit", 2, 11.0, 1.0),
        sample("A", "exit", 3, 12.0, 4.0),
        sample("A", "below", 1, 99.0),  # once: tells nothing
    ]
    found = pooled_scatter(marks)
    assert found == Scatter(math.sqrt((2 + 2 + 6) / 6), dof=6, points=2, photos=1)


def test_nothing_marked_twice_tells_nothing() -> None:
    assert pooled_scatter([sample("A", "entry", 1, 0.0), sample("B", "entry", 1, 1.0)]) is None
    assert scatter_by_piercer([sample("A", "entry", 1, 0.0)]) == {}


def test_piercers_are_kept_apart() -> None:
    marks = [
        sample(by, "entry", number, at)
        for by, places in (("A", (0.0, 0.2)), ("B", (5.0, 5.4)))
        for number, at in enumerate(places, 1)
    ]
    found = scatter_by_piercer(marks)
    assert {name: round(s.s_mm, 4) for name, s in found.items()} == {"A": 0.1, "B": 0.2}
    # Pooled over both, the 5 mm between them still don't count.
    both = pooled_scatter(marks)
    assert both is not None
    assert both.s_mm == pytest.approx(math.sqrt((0.01 + 0.04) / 2))
    assert both.points == 1


def test_without_repeats_the_assumption_stands() -> None:
    found = mark_uncertainty(None)
    assert (found.u_mm, found.dof, found.own) == (U_MARK_MM, math.inf, False)


@pytest.mark.parametrize("dof", [2, 4, 6])
def test_below_eight_degrees_of_freedom_the_assumption_stays_in(dof: int) -> None:
    found = mark_uncertainty(Scatter(0.1, dof, 1, 1))
    assert not found.own
    assert found.dof == LEAST_DOF + dof
    assert 0.1 < found.u_mm < U_MARK_MM
    # What agrees with the assumption leaves u near it; it doesn't jump at the first repeat.
    agreeing = Scatter(U_MARK_MM * math.sqrt(0.75), dof, 1, 1)
    assert mark_uncertainty(agreeing).u_mm == pytest.approx(U_MARK_MM, rel=0.15)
    barely = mark_uncertainty(Scatter(0.1, 0, 0, 0))
    assert barely.u_mm == pytest.approx(U_MARK_MM)


def test_a_shaky_hand_is_believed_sooner_than_eight() -> None:
    assert mark_uncertainty(Scatter(0.5, 6, 2, 1)).u_mm > 1.5 * U_MARK_MM


@pytest.mark.parametrize("s_mm", [0.05, 0.2, 0.5])
def test_from_eight_on_the_own_scatter_takes_its_place(s_mm: float) -> None:
    found = mark_uncertainty(Scatter(s_mm, LEAST_DOF, 2, 1))
    assert found.own
    assert (found.scale_mm, found.dof) == (s_mm, LEAST_DOF)
    assert found.u_mm == pytest.approx(s_mm * math.sqrt(8 / 6))
    assert mark_uncertainty(Scatter(s_mm, 4000, 2, 1)).u_mm == pytest.approx(s_mm, rel=1e-3)


def test_the_definition_is_never_averaged_away() -> None:
    one = MarkUncertainty(0.2, math.inf)
    assert one.of_mean(1) == pytest.approx(math.hypot(0.2, U_DEFINITION_MM))
    assert one.of_mean(4) == pytest.approx(math.hypot(0.1, U_DEFINITION_MM))
    assert one.of_mean(10**6) == pytest.approx(U_DEFINITION_MM, rel=1e-4)
    with pytest.raises(ValueError, match="passes"):
        one.of_mean(0)


@pytest.mark.parametrize(
    "found", [mark_uncertainty(None), mark_uncertainty(Scatter(0.15, 8, 2, 1))]
)
@pytest.mark.parametrize("passes", [1, 4])
def test_draws_have_the_stated_uncertainty(found: MarkUncertainty, passes: int) -> None:
    drawn = found.draw(Draws(3, 200_000), "1/entry", passes)
    assert drawn.shape == (200_000, 2)
    # A t of 8 has heavy tails: its standard deviation from 200,000 draws is known to 0.3 %.
    np.testing.assert_allclose(drawn.std(axis=0), found.of_mean(passes), rtol=0.015)
    assert abs(np.corrcoef(drawn.T)[0, 1]) < 0.01
