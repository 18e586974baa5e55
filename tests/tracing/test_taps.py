"""The taps' own curve, on rings and lines."""

from __future__ import annotations

import numpy as np
import pytest

from calibration.frames import Array
from tracing.taps import TAP_MM, along_taps, rows_of, spread_mm


def ring(degrees: list[float], radius: float = 100.0) -> Array:
    angle = np.deg2rad(degrees)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


@pytest.mark.parametrize("turn", [1, -1])
def test_taps_on_a_ring_give_the_ring_and_normals_out_of_it(turn: int) -> None:
    guide = along_taps(ring([190, 240, 300, 350])[::turn], 2.0)
    np.testing.assert_allclose(np.hypot(*guide.points.T), 100.0, atol=0.05)
    out = guide.points / np.hypot(*guide.points.T)[:, None]
    np.testing.assert_allclose(guide.normals, out, atol=0.01)


def test_three_taps_give_a_curve_through_them_between_parabola_and_ring() -> None:
    there = ring([200, 270, 340])
    guide = along_taps(there, 2.0)
    away = np.hypot(*(guide.points[:, None] - there[None]).transpose(2, 0, 1)).min(axis=0)
    assert float(away.max()) < 1.5
    reach = np.hypot(*guide.points.T)
    assert float(reach.max()) < 100.5
    assert float(reach.min()) > 96.0


@pytest.mark.parametrize(
    "taps",
    [[[0, 0], [50, 0], [100, 0]], [[0, 0], [50, 30], [100, 0], [150, -30]]],
    ids=["in line", "an S"],
)
def test_taps_that_lie_on_no_ring_are_joined_all_the_same(taps: list[list[float]]) -> None:
    there = np.array(taps, dtype=float)
    guide = along_taps(there, 1.0)
    away = np.hypot(*(guide.points[:, None] - there[None]).transpose(2, 0, 1)).min(axis=0)
    assert float(away.max()) < 1.0
    np.testing.assert_allclose(guide.points[[0, -1]], there[[0, -1]], atol=1e-6)


def test_between_taps_the_contour_may_lie_farther_from_them() -> None:
    guide = along_taps(ring([190, 270, 350]), 2.0)
    rows = rows_of(guide, ring([190, 270, 350]))
    spread = spread_mm(rows, len(guide.points), guide.step_px * 0.2)
    np.testing.assert_allclose(spread[rows], TAP_MM)
    assert float(spread[(rows[0] + rows[1]) // 2]) > 1.3 * TAP_MM
