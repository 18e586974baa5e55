"""Distributions of inputs against scipy.stats and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from calibration.draws import Draws
from calibration.inputs import (
    ARCSINE,
    NORMAL,
    RECTANGULAR,
    Input,
    Shape,
    refuse_namesakes,
    root_of,
    student,
)

COUNT = 40_000
ALPHA = 1e-3
"""Of each Kolmogorov-Smirnov test, at a fixed seed."""

CTRAP = Shape("curvilinear trapezoid", ratio=0.5)


def trapezoid_cdf(x: np.ndarray, ratio: float) -> np.ndarray:
    """Return the distribution function of a curvilinear trapezoid of half-width 1.

    Integral of the density of JCGM 101:2008, 6.4.3.2 (from memory).
    """
    far, near = 1.0 + ratio, 1.0 - ratio
    s = np.clip(np.abs(x), near, far)
    tail = (far - s - s * np.log(far / s)) / (4.0 * ratio)
    upper = np.where(
        np.abs(x) <= near, 0.5 + np.abs(x) * np.log(far / near) / (4.0 * ratio), 1.0 - tail
    )
    return np.asarray(np.where(x < 0, 1.0 - upper, upper))


def trapezoid(ratio: float):
    sd = np.sqrt(1.0 / 3.0 + ratio**2 / 9.0)
    return lambda z: trapezoid_cdf(np.asarray(z) * sd, ratio)


SHAPES = [
    (NORMAL, stats.norm.cdf),
    (RECTANGULAR, stats.uniform(-np.sqrt(3), 2 * np.sqrt(3)).cdf),
    (ARCSINE, stats.arcsine(-np.sqrt(2), 2 * np.sqrt(2)).cdf),
    (student(3), stats.t(3).cdf),
    (student(12), stats.t(12).cdf),
    (CTRAP, trapezoid(0.5)),
    (Shape("curvilinear trapezoid", ratio=0.1), trapezoid(0.1)),
]


@pytest.mark.parametrize(("shape", "cdf"), SHAPES, ids=lambda s: getattr(s, "kind", ""))
def test_each_shape_is_its_distribution(shape: Shape, cdf) -> None:
    (draws,) = shape.draw(np.random.default_rng(11), 1, COUNT)
    assert stats.kstest(draws, cdf).pvalue > ALPHA
    wider = stats.kstest(1.05 * draws, cdf).pvalue  # the test would see 5 %
    assert wider < ALPHA


@pytest.mark.parametrize(("shape", "cdf"), SHAPES, ids=lambda s: getattr(s, "kind", ""))
def test_each_shape_has_mean_0_and_its_stated_sd(shape: Shape, cdf) -> None:
    (draws,) = shape.draw(np.random.default_rng(5), 1, 400_000)
    assert draws.mean() == pytest.approx(0.0, abs=4 * shape.sd / np.sqrt(400_000))
    # A t with 3 degrees of freedom has no fourth moment: its sd settles slowly.
    heavy = shape.kind == "t" and shape.dof <= 4
    assert draws.std() == pytest.approx(shape.sd, rel=0.05 if heavy else 0.006)


@pytest.mark.parametrize("p", [0.005, 0.025, 0.25, 0.975])
def test_quantiles_are_scipy_s(p: float) -> None:
    rows = {
        NORMAL: stats.norm,
        student(5): stats.t(5),
        RECTANGULAR: stats.uniform(-np.sqrt(3), 2 * np.sqrt(3)),
        ARCSINE: stats.arcsine(-np.sqrt(2), 2 * np.sqrt(2)),
    }
    for shape, known in rows.items():
        (draws,) = shape.draw(np.random.default_rng(3), 1, 200_000)
        at = float(known.ppf(p))
        error = np.sqrt(p * (1 - p) / 200_000) / float(known.pdf(at))
        assert float(np.quantile(draws, p)) == pytest.approx(at, abs=4 * error)


def test_the_components_of_a_t_share_its_denominator() -> None:
    """Half the sum of two squares is then F with 2 and ``dof``; of independent t it isn't."""
    pair = student(4).draw(np.random.default_rng(8), 2, COUNT)
    half = (pair**2).sum(axis=0) / 2
    assert stats.kstest(half, stats.f(2, 4).cdf).pvalue > ALPHA
    apart = np.stack([student(4).draw(np.random.default_rng(s), 1, COUNT)[0] for s in (1, 2)])
    assert stats.kstest((apart**2).sum(axis=0) / 2, stats.f(2, 4).cdf).pvalue < ALPHA


@pytest.mark.parametrize("shape", [NORMAL, RECTANGULAR, ARCSINE, student(4), CTRAP], ids=repr)
def test_more_components_leave_the_first_ones_as_they_were(shape: Shape) -> None:
    few, many = (shape.draw(np.random.default_rng(2), size, 1000) for size in (2, 5))
    np.testing.assert_array_equal(few, many[:2])
    assert abs(np.corrcoef(many[0], many[4])[0, 1]) < 0.11


def test_a_joint_input_has_its_covariance_and_its_t() -> None:
    covariance = np.array([[4.0, -1.8], [-1.8, 1.0]])
    entry = Input("line", "line", np.array([1.0, 2.0]), root_of(covariance), student(9))
    assert entry.dof == 9
    drawn = entry.draw(Draws(1, 400_000))
    np.testing.assert_allclose(drawn.mean(axis=1), [1.0, 2.0], atol=0.02)
    np.testing.assert_allclose(np.cov(drawn), covariance * 9 / 7, rtol=0.02)
    # Any combination of a joint t is the t of the same degrees of freedom.
    weights = np.array([0.3, 1.1])
    scale = np.sqrt(weights @ covariance @ weights)
    mixed = (weights @ drawn - weights @ entry.estimate)[:COUNT] / scale
    assert stats.kstest(mixed, stats.t(9).cdf).pvalue > ALPHA


def test_root_of_a_singular_covariance() -> None:
    covariance = np.outer([1.0, 2.0, -1.0], [1.0, 2.0, -1.0])
    root = root_of(covariance)
    np.testing.assert_allclose(root @ root.T, covariance, atol=1e-12)


def test_an_input_without_uncertainty_is_its_estimate() -> None:
    drawn = Input.scalar("known", 3.5, 0.0).draw(Draws(1, 10))
    np.testing.assert_array_equal(drawn, np.full((1, 10), 3.5))


def test_endless_degrees_of_freedom_are_a_normal() -> None:
    assert student(np.inf) is NORMAL


def test_an_input_that_makes_no_sense_is_refused() -> None:
    for dof in (2.0, np.inf, np.nan):
        with pytest.raises(ValueError, match="'dof' of a t"):
            Shape("t", dof)
    with pytest.raises(ValueError, match="'ratio' must lie in 0 to 1"):
        Shape("curvilinear trapezoid", ratio=1.5)
    for root in (np.eye(3), np.zeros((2, 0)), np.ones(2)):
        with pytest.raises(ValueError, match="'root' of pose"):
            Input("pose", "pose", np.zeros(2), root)
    with pytest.raises(ValueError, match=r"names of their own \(got a twice\)"):
        refuse_namesakes(
            [Input.scalar("a", 0, 1), Input.scalar("b", 0, 1), Input.scalar("a", 1, 1)]
        )
