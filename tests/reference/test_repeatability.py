"""Repeatability and scatter between piercers against certified, printed and library values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from assess.between_piercers import between_piercers, one_way
from assess.repeatability import (
    U_DEFINITION_MM,
    MarkSample,
    MarkUncertainty,
    Scatter,
    mark_uncertainty,
    pooled_scatter,
)
from calibration.draws import Draws

# Resistance of silicon wafers, five instruments, five replicates each.
SIRSTV = """
196.3052 196.1240 196.1890 196.2569 196.3403
196.3042 196.3825 196.1669 196.3257 196.0422
196.1303 196.2005 196.2889 196.0343 196.1811
196.2795 196.1748 196.1494 196.1485 195.9885
196.2119 196.1051 196.1850 196.0052 196.2090
"""
MS_BETWEEN, MS_WITHIN, RESIDUAL_SD = (
    1.27865654000000e-02,
    1.08318280000000e-02,
    1.04076068334656e-01,
)

# Sulfur content of coal (% by mass), eight laboratories, level 1.
SULFUR = (
    (0.71, 0.71, 0.70, 0.71),
    (0.69, 0.67, 0.68),
    (0.66, 0.65, 0.69),
    (0.67, 0.65, 0.66),
    (0.70, 0.69, 0.66, 0.71, 0.69),
    (0.73, 0.74, 0.73),
    (0.71, 0.71, 0.69),
    (0.70, 0.65, 0.68),
)


def cells(rows: object) -> list[np.ndarray]:
    return [np.array(row, dtype=np.float64) for row in rows]  # type: ignore[attr-defined]


@pytest.mark.published(
    source="NIST StRD, analysis of variance, SiRstv.dat (as packaged with scipy's tests)",
    where="certified values",
)
def test_certified_mean_squares() -> None:
    found = one_way([cells([line.split() for line in SIRSTV.split("\n") if line])])
    assert found is not None
    assert (found.dof_between, found.dof_within) == (4, 20)
    # The data have 3 constant leading digits; double precision keeps at least 10 of the rest.
    assert found.s_r == pytest.approx(RESIDUAL_SD, rel=1e-10)
    assert found.s_L**2 == pytest.approx((MS_BETWEEN - MS_WITHIN) / 5, rel=1e-9)
    assert found.s_R**2 == pytest.approx(found.s_r**2 + found.s_L**2)


@pytest.mark.memory(source="ISO 5725-2:1994, annex B, sulfur content of coal, level 1")
def test_the_coal_example_of_the_standard() -> None:
    found = one_way([cells(SULFUR)])
    assert found is not None
    # Half of the last printed digit.
    assert found.s_r == pytest.approx(0.015, abs=0.0005)
    assert found.s_R == pytest.approx(0.026, abs=0.0005)
    assert found.dof_within == 27 - 8


@pytest.mark.published(
    source="scipy.stats.f_oneway, an independent library", where="F is the ratio of mean squares"
)
@pytest.mark.parametrize("rows", [SULFUR, SULFUR[:3], ((1.0, 2.0, 4.0), (7.0, 8.0), (3.0,))])
def test_unbalanced_mean_squares_equal_a_librarys(rows: object) -> None:
    groups = cells(rows)
    found = one_way([groups])
    assert found is not None
    sizes = np.array([len(group) for group in groups])
    n0 = (sizes.sum() - (sizes**2).sum() / sizes.sum()) / (len(sizes) - 1)
    ratio = (found.s_r**2 + n0 * found.s_L**2) / found.s_r**2
    assert ratio == pytest.approx(stats.f_oneway(*groups).statistic, rel=1e-9)


@pytest.mark.published(source="ISO 5725-2", where="a negative between-laboratory variance is zero")
def test_a_negative_variance_between_is_zero() -> None:
    groups = cells(((1.0, 3.0), (0.9, 3.1), (1.1, 2.9)))
    assert stats.f_oneway(*groups).statistic < 1  # so the difference of mean squares is negative
    found = one_way([groups])
    assert found is not None
    assert found.s_L == 0.0
    assert found.s_R == found.s_r


@pytest.mark.published(
    source="JCGM 100:2008, H.1 (second-hand: two uncertainty packages' documentation)",
    where="pooled s 13 nm, mean of 5 readings: u = 5.8 nm with 24 degrees of freedom",
)
def test_the_mean_of_five_has_the_pooled_s_over_root_five() -> None:
    found = MarkUncertainty(13.0, math.inf).of_mean(5)
    random = math.sqrt(found**2 - U_DEFINITION_MM**2)
    assert random == pytest.approx(5.8, abs=0.05)  # half of the last printed digit
    # 25 readings of one thing bring 24 on one axis; marks have two axes.
    rng = np.random.default_rng(2)
    marks = [MarkSample("A", "p", "1", "entry", i, *rng.normal(size=2)) for i in range(25)]
    scatter = pooled_scatter(marks)
    assert scatter is not None
    assert scatter.dof == 2 * 24


@pytest.mark.memory(source="JCGM 100:2008, E.4.3 and Table E.1")
@pytest.mark.parametrize(("n", "percent"), [(10, 24), (20, 16), (30, 13), (50, 10)])
def test_how_well_few_readings_tell_s(n: int, percent: int) -> None:
    """The table is exact; s/sqrt(2 dof), which the clause gives, has its digits from n = 10."""
    found = Scatter(0.2, n - 1, 1, 1).quantity
    assert 100 * found.u / found.value == pytest.approx(percent, abs=0.6)


@pytest.mark.published(source="scipy.stats.chi2", where="95 % interval of a standard deviation")
def test_the_interval_of_s_holds_the_true_one_95_times_in_100() -> None:
    rng = np.random.default_rng(4)
    dof, inside = 8, 0
    for square in rng.chisquare(dof, 4000):
        found = Scatter(float(np.sqrt(square / dof)), dof, 2, 1).quantity
        inside += found.low <= 1.0 <= found.high
    assert inside / 4000 == pytest.approx(0.95, abs=0.01)  # known to 0.0035


@pytest.mark.published(source="scipy.stats.t, an independent library", where="JCGM 101:2008, 6.4.9")
@pytest.mark.parametrize("dof", [8, 10, 24])
def test_marks_of_few_degrees_of_freedom_follow_a_scaled_t(dof: int) -> None:
    found = mark_uncertainty(Scatter(0.15, dof, 2, 1))
    expected = stats.t(dof, scale=0.15)
    assert found.u_mm == pytest.approx(expected.std())
    drawn = found.draw(Draws(1, 200_000), "entry", passes=1)
    pure = drawn - U_DEFINITION_MM * Draws(1, 200_000).normal("definition: entry", 2)
    for axis in pure.T:
        assert stats.kstest(axis, expected.cdf).pvalue > 0.01
    # A marks file has only a standard uncertainty, and the measurement draws a normal of it:
    # its 95 % interval then is too short by 2.5 % at most (8 degrees of freedom).
    assert 1.0 < expected.ppf(0.975) / (1.96 * found.u_mm) < 1.025


@pytest.mark.published(source="scipy.stats.chi2", where="dof s²/sigma² follows chi-squared(dof)")
def test_simulated_piercers_scatter_with_the_stated_degrees_of_freedom() -> None:
    """Points with 2, 3 and 5 passes: 2 + 4 + 8 degrees of freedom, unbiased."""
    rng = np.random.default_rng(7)
    sigma, found = 0.13, []
    for _ in range(3000):
        marks = [
            MarkSample("A", "p", str(n), "entry", i, *(at + sigma * rng.standard_normal(2)))
            for n in (2, 3, 5)
            for at in [rng.uniform(0, 60, 2)]
            for i in range(n)
        ]
        scatter = pooled_scatter(marks)
        assert scatter is not None
        assert scatter.dof == 14
        found.append(scatter.s_mm**2)
    # 3000 variances of 14 degrees of freedom: their mean is known to 0.7 %.
    assert np.mean(found) == pytest.approx(sigma**2, rel=0.02)
    assert stats.kstest(14 * np.array(found) / sigma**2, stats.chi2(14).cdf).pvalue > 0.01


@pytest.mark.published(source="scipy.stats.t", where="JCGM 101:2008, 6.4.9, coverage of a mean")
def test_the_mean_of_later_marks_is_as_far_off_as_the_t_says() -> None:
    rng = np.random.default_rng(8)
    sigma, passes, off = 0.2, 3, []
    for _ in range(4000):
        past = [
            MarkSample("A", "p", str(i // 2), "entry", i % 2, *(sigma * rng.standard_normal(2)))
            for i in range(10)  # five points marked twice: 10 degrees of freedom
        ]
        now = mark_uncertainty(pooled_scatter(past))
        assert (now.dof, now.own) == (10, True)
        mean = sigma * rng.standard_normal(passes).mean()
        off.append(mean / (now.scale_mm / math.sqrt(passes)))
    assert stats.kstest(off, stats.t(10).cdf).pvalue > 0.01


@pytest.mark.published(source="ISO 5725-2, the model itself", where="expected mean squares")
def test_simulated_piercers_give_back_both_scatters() -> None:
    """Three piercers with 2, 3 and 4 passes at four points: unbalanced, both axes."""
    rng = np.random.default_rng(9)
    within, between, r2, l2 = 0.12, 0.25, [], []
    for _ in range(1500):
        marks = [
            MarkSample(by, "p", str(k), "entry", i, *(shift + within * rng.standard_normal(2)))
            for k in range(4)
            for by, n in (("A", 2), ("B", 3), ("C", 4))
            for shift in [between * rng.standard_normal(2)]
            for i in range(n)
        ]
        found = between_piercers(marks)
        assert found is not None
        assert (found.points, found.piercers, found.photos) == (4, 3, 1)
        precision = found.precision
        assert (precision.dof_within, precision.dof_between) == (4 * 6 * 2, 4 * 2 * 2)
        r2.append(precision.s_r**2)
        l2.append(precision.s_L**2)
    # Means of 1500: s_r² to 0.5 %, s_L² to 1 %.
    assert np.mean(r2) == pytest.approx(within**2, rel=0.02)
    assert np.mean(l2) == pytest.approx(between**2, rel=0.04)
