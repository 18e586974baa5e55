"""The second visit against other libraries and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.spatial.transform import Rotation
from skimage.transform import EuclideanTransform

from assess.recheck_change import K_ONE, K_PLANE
from assess.recheck_registration import Rows, register, rigid_points
from assess.trend import MONTH_DAYS, Seen, trend
from calibration.frames import Array

OWN = pytest.mark.memory(source="closed form, worked out here")


@pytest.mark.memory(source="scikit-image's EuclideanTransform.from_estimate (Umeyama 1991)")
def test_points_are_laid_on_points_as_scikit_image_does() -> None:
    rng = np.random.default_rng(3)
    source = rng.normal(size=(12, 2)) * 10
    turn = 0.3
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    target = source @ matrix.T + [4.0, -2.0] + 0.2 * rng.normal(size=source.shape)
    found, shift = rigid_points(source, target)
    theirs = EuclideanTransform.from_estimate(source, target)
    np.testing.assert_allclose(found, theirs.params[:2, :2], atol=1e-10)
    np.testing.assert_allclose(shift, theirs.params[:2, 2], atol=1e-9)


@pytest.mark.memory(source="scipy's Rotation.align_vectors (Kabsch 1976)")
def test_points_in_space_are_turned_as_scipy_does() -> None:
    rng = np.random.default_rng(4)
    source = rng.normal(size=(8, 3)) * 10
    turned = Rotation.from_euler("xyz", [0.2, -0.1, 0.4])
    target = turned.apply(source) + 0.3 * rng.normal(size=source.shape) + [1.0, 2.0, 3.0]
    weights = rng.uniform(0.5, 2.0, 8)
    found, shift = rigid_points(source, target, weights)
    middle, aim = weights @ source / weights.sum(), weights @ target / weights.sum()
    theirs, _ = Rotation.align_vectors(target - aim, source - middle, weights=weights)
    np.testing.assert_allclose(found, theirs.as_matrix(), atol=1e-7)
    np.testing.assert_allclose(shift, aim - theirs.apply(middle), atol=1e-6)


@OWN
def test_a_mirrored_set_of_points_is_never_mirrored_back() -> None:
    source = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 1.0]])
    turn, _ = rigid_points(source, source * [1.0, -1.0])
    assert np.linalg.det(turn) == pytest.approx(1.0)


def _line_rows(points: Array, normals: Array, own: float, common: Array | None = None):
    """Return residuals across lines through the origin's neighbours, by turn (20 mm) and shift."""

    def rows_at(at: Array) -> Rows:
        moved = points + at[1:3]
        arm = np.column_stack([-points[:, 1], points[:, 0]]) / 20.0
        gap = np.sum(normals * (moved + arm * at[0] - targets), axis=1)
        slope = np.column_stack([np.sum(normals * arm, axis=1), normals])
        named = {} if common is None else {"common": common}
        return Rows(gap, slope, np.full(len(points), own), named)

    targets = points + np.array([0.7, -0.4])
    return rows_at


@OWN
def test_what_slides_along_a_straight_line_stays_open() -> None:
    """Along y nothing is said of y: its u is the beforehand 30 mm; across it is sigma / sqrt(N)."""
    points = np.column_stack([np.zeros(16), np.linspace(-15.0, 15.0, 16)])
    normals = np.tile([1.0, 0.0], (16, 1))
    found = register(_line_rows(points, normals, 0.2), np.zeros(3), {}, slice(0, 3))
    assert found.unknowns[1] == pytest.approx(0.7, abs=1e-4)
    assert np.sqrt(found.covariance[1, 1]) == pytest.approx(0.2 / 4.0, rel=1e-3)
    assert np.sqrt(found.covariance[2, 2]) == pytest.approx(30.0, rel=1e-6)


@OWN
def test_a_circle_leaves_the_turn_about_its_middle_open() -> None:
    turn = np.linspace(0.3, 2.6, 30)
    normals = np.column_stack([np.cos(turn), np.sin(turn)])
    found = register(_line_rows(20.0 * normals, normals, 0.1), np.zeros(3), {}, slice(0, 3))
    assert np.sqrt(found.covariance[0, 0]) == pytest.approx(30.0, rel=1e-6)
    assert np.sqrt(np.diag(found.covariance)[1:]).max() < 0.1


@OWN
def test_correlated_residuals_are_weighed_as_generalised_least_squares_do() -> None:
    rng = np.random.default_rng(8)
    turn = rng.uniform(0, 2 * np.pi, 25)
    normals = np.column_stack([np.cos(turn), np.sin(turn)])
    points = rng.normal(size=(25, 2)) * 12
    common = 0.15 * rng.normal(size=(25, 3))
    rows_at = _line_rows(points, normals, 0.2, common)
    found = register(rows_at, np.zeros(3), {}, slice(0, 3))
    rows = rows_at(np.zeros(3))
    spread = 0.2**2 * np.eye(25) + common @ common.T
    # The same by whitening and ordinary least squares, with the three things known beforehand.
    white = np.linalg.inv(np.linalg.cholesky(spread))
    design = np.vstack([white @ rows.slope, np.eye(3) / 30.0])
    covariance = np.linalg.inv(design.T @ design)
    best, *_ = np.linalg.lstsq(design, np.append(white @ -rows.gap, np.zeros(3)), rcond=None)
    np.testing.assert_allclose(found.unknowns, best, atol=1e-9)
    np.testing.assert_allclose(found.covariance, covariance, rtol=1e-9)
    # All inputs by name together bring the covariance.
    parts = sum(part @ part.T for part in found.loadings.values())
    np.testing.assert_allclose(parts, covariance, rtol=1e-9)


@OWN
def test_slopes_that_err_leave_a_way_as_open_as_trials_show() -> None:
    """Of N true slopes 0.1 that err by 0.06: N (0.01 + 0.0036) / (N 0.01)² instead of 1 / N 0.0136.

    So much, and not less, the estimate differs from trial to trial.
    """
    rng = np.random.default_rng(21)
    n, true, err, own = 60, 0.1, 0.06, 0.2
    found, stated = [], []
    for _ in range(300):
        slope = true + err * rng.normal(size=(n, 1))
        noise = own * rng.normal(size=n)

        def rows_at(at: Array, slope: Array = slope, noise: Array = noise) -> Rows:
            gap = true * at[0] + noise
            return Rows(gap, slope, np.full(n, own), {}, (np.ones((n, 1)), err * np.eye(n)))

        one = register(rows_at, np.zeros(1), {}, slice(0, 1))
        found.append(one.unknowns[0])
        stated.append(one.covariance[0, 0])
    plain = own**2 / (n * (true**2 + err**2))
    expected = own**2 * (true**2 + err**2) / (n * true**4)
    assert np.mean(stated) == pytest.approx(expected, rel=0.1)
    assert np.var(found) == pytest.approx(expected, rel=0.25)
    assert np.var(found) > 1.4 * plain


@OWN
def test_one_wrong_mark_in_twenty_counts_little() -> None:
    turn = np.linspace(0, 2 * np.pi, 20, endpoint=False)
    normals = np.column_stack([np.cos(turn), np.sin(turn)])
    points = np.column_stack([15.0 * np.cos(turn), 9.0 * np.sin(turn)])
    plain = _line_rows(points, normals, 0.1)

    def spoilt(at: Array) -> Rows:
        rows = plain(at)
        gap = rows.gap.copy()
        gap[3] += 5.0
        return Rows(gap, rows.slope, rows.own, rows.named)

    found = register(spoilt, np.zeros(3), {}, slice(0, 3))
    np.testing.assert_allclose(found.unknowns[1:], [0.7, -0.4], atol=0.08)
    assert found.weights[3] < 0.05


@pytest.mark.memory(
    source="chi-squared: 95 % of one and of two degrees of freedom, 3.841 and 5.991"
)
def test_the_factors_of_u() -> None:
    assert pytest.approx(3.841, abs=5e-4) == K_ONE**2
    assert pytest.approx(5.991, abs=5e-4) == K_PLANE**2
    assert pytest.approx(2.45, abs=5e-3) == K_PLANE


@pytest.mark.memory(source="scipy.optimize.curve_fit with a full covariance, absolute_sigma")
def test_a_trend_is_scipys_fit_with_the_same_covariance() -> None:
    from datetime import date, timedelta

    start = date(2026, 11, 20)
    days, values = (30, 61, 120, 200), (0.4, 1.1, 1.8, 3.3)
    seen = [Seen(start + timedelta(days=d), v, 0.5, 0.3) for d, v in zip(days, values, strict=True)]
    found = trend(start, seen)
    months = np.array(days) / MONTH_DAYS
    spread = 0.5**2 * np.eye(4) + 0.3**2
    (slope,), ((variance,),) = curve_fit(
        lambda x, b: b * x, months, values, sigma=spread, absolute_sigma=True
    )
    assert found.per_month == pytest.approx(slope, rel=1e-6)
    assert found.u == pytest.approx(np.sqrt(variance), rel=1e-6)
    assert found.low == pytest.approx(slope - 1.96 * np.sqrt(variance), abs=1e-3)
