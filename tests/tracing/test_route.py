"""What is believed of a way, against the linear smoother and by hand."""

from __future__ import annotations

import numpy as np

from tracing.route import Wander, believed

ACROSS_MM = np.arange(-40, 41) * 0.05
ROW_MM = 1.0
WANDER = Wander(0.01, 0.3, 0.6)


def test_with_normal_evidence_it_is_the_linear_smoother() -> None:
    """Normal evidence and a slope that wanders: the posterior is normal, known in closed form."""
    rng = np.random.default_rng(4)
    rows = 25
    seen, sd = 0.5 * np.sin(np.arange(rows) / 6.0) + 0.15 * rng.standard_normal(rows), 0.15
    found = believed(-0.5 * ((ACROSS_MM - seen[:, None]) / sd) ** 2, ACROSS_MM, ROW_MM, WANDER, 9.0)
    bend, slope = np.diff(np.eye(rows), n=2, axis=0), np.diff(np.eye(rows)[:2], axis=0)
    precision = (
        bend.T @ bend / (WANDER.per_mm * ROW_MM**3)
        + slope.T @ slope / (WANDER.first * ROW_MM) ** 2
        + np.eye(rows) / sd**2
    )
    spread = np.linalg.inv(precision)
    np.testing.assert_allclose(found.place_mm, spread @ seen / sd**2, atol=0.02)
    np.testing.assert_allclose(found.sd_mm, np.sqrt(np.diag(spread)), rtol=0.1)


def test_two_ways_as_good_are_both_believed() -> None:
    """Half each: the standard deviation about either, 1.6 mm from the other, is 1.6 / sqrt 2."""
    gain = np.full((20, len(ACROSS_MM)), -6.0)
    gain[:, [24, 56]] = 0.0
    found = believed(gain, ACROSS_MM, ROW_MM, WANDER, 0.3)
    np.testing.assert_allclose(found.share[:, :40].sum(axis=1), 0.5, atol=0.02)
    np.testing.assert_allclose(np.abs(found.place_mm), 0.8, atol=0.03)
    np.testing.assert_allclose(found.sd_mm, 1.6 / np.sqrt(2), rtol=0.06)


def test_a_lone_spot_does_not_pull_a_way_aside() -> None:
    gain = np.full((30, len(ACROSS_MM)), -3.0)
    gain[:, 40] = 0.0
    gain[15, 70] = 2.0
    found = believed(gain, ACROSS_MM, ROW_MM, WANDER, 0.3)
    assert float(np.abs(found.place_mm).max()) < 0.1
