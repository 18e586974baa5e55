"""What is kept of a proposed contour: few points, the same curve, and taps only in its gaps."""

from __future__ import annotations

import numpy as np
import pytest

from assess.rim import resample
from calibration.frames import Array
from tracing.thin import FAR_MM, MOST, NEAR_MM, OFF_MM, kept_points, seen_stretches, thinned

MM_PER_PX = 0.1


def arch(bend_px: float = 150.0, from_deg: float = 190.0, to_deg: float = 350.0) -> Array:
    """Return an arc of places 1 px apart."""
    count = round(np.deg2rad(to_deg - from_deg) * bend_px)
    turn = np.deg2rad(np.linspace(from_deg, to_deg, count))
    return np.array([300.0, 300.0]) + bend_px * np.column_stack([np.cos(turn), np.sin(turn)])


def rim() -> Array:
    """Return a long arch with a tighter bend at its end, as a rim has."""
    large = arch(150.0, 190.0, 330.0)
    way = np.deg2rad(330.0)
    centre = np.array([300.0, 300.0]) + 110.0 * np.array([np.cos(way), np.sin(way)])
    turn = np.deg2rad(np.linspace(330.0, 390.0, 42))
    return np.concatenate(
        [large, centre + 40.0 * np.column_stack([np.cos(turn), np.sin(turn)])[1:]]
    )


def off_mm(line: Array, points: Array) -> float:
    """Return how far a line is at most from the curve that is measured through points, mm."""
    curve = resample(points * MM_PER_PX, 0.02) / MM_PER_PX
    away = np.linalg.norm(line[:, None] - curve[None], axis=-1).min(axis=1)
    return float(away.max()) * MM_PER_PX


@pytest.mark.parametrize("line", [arch(), rim()])
def test_few_points_mean_the_same_curve(line: Array) -> None:
    points = thinned(line, MM_PER_PX)
    length_mm = len(line) * MM_PER_PX
    assert length_mm / FAR_MM <= len(points) <= min(length_mm / NEAR_MM + 2, MOST)
    assert off_mm(line, points) <= OFF_MM + 0.01  # the finite steps of the comparison


def test_points_come_closer_where_the_line_bends() -> None:
    points = thinned(rim(), MM_PER_PX)
    steps = np.hypot(*np.diff(points, axis=0).T)
    assert steps[-2] < 0.8 * steps[2]


def test_roughness_is_not_followed() -> None:
    line = arch()
    rough = line + np.random.default_rng(1).normal(0.0, 0.6, line.shape)
    points = thinned(rough, MM_PER_PX)
    assert len(points) <= MOST
    away = np.abs(np.hypot(*(points - 300.0).T) - 150.0)
    assert float(np.sqrt((away**2).mean())) < 0.4


def test_a_short_line_keeps_its_ends() -> None:
    line = arch()[:12]
    assert thinned(line, MM_PER_PX) == pytest.approx(line[[0, -1]])
    assert thinned(line[:1], MM_PER_PX) == pytest.approx(line[:1])


@pytest.mark.parametrize(
    ("gaps", "seen"),
    [
        ([], ((0, 9),)),
        ([(0, 3)], ((4, 9),)),
        ([(7, 9)], ((0, 6),)),
        ([(2, 3), (5, 5)], ((0, 1), (4, 4), (6, 9))),
        ([(0, 9)], ()),
    ],
)
def test_the_seen_stretches_are_what_no_gap_covers(
    gaps: list[tuple[int, int]], seen: tuple[tuple[int, int], ...]
) -> None:
    assert seen_stretches(10, gaps) == seen


def test_in_a_gap_only_the_taps_are_kept() -> None:
    line = arch()
    taps = line[[0, 100, 200, 300, len(line) - 1]] + 2.0
    points = kept_points(line, [(80, 220)], taps, MM_PER_PX)
    held = [tuple(p) for p in points]
    assert [tuple(tap) in held for tap in taps] == [False, True, True, False, False]
    at = [int(np.argmin(np.linalg.norm(line - p, axis=1))) for p in points]
    assert at == sorted(at)
    assert sum(80 < row < 220 for row in at) == 2


def test_a_line_that_is_all_gap_keeps_the_taps_alone() -> None:
    line = arch()
    taps = line[[0, 200, len(line) - 1]] + 1.0
    assert kept_points(line, [(0, len(line) - 1)], taps, MM_PER_PX) == pytest.approx(taps)
