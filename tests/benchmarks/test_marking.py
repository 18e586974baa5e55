"""The benchmark of the help with marking: errors are distances, the table says what they are."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.dot_scenes import DotScene
from benchmarks.marking import SEED, ContourScore, DotScore, dot_score, errors_mm, marking_table
from benchmarks.speed import speed_table


def test_errors_are_distances_across_the_contour() -> None:
    """On a circle of 100 px, points 5 px outside and 2 px inside it; ends don't count."""
    angle = np.linspace(np.pi, 2 * np.pi, 60)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    for radius, error_mm in ((105.0, 0.5), (98.0, -0.2)):
        found, inside = errors_mm(radius * ring[5:-5], 100.0 * ring, px_per_mm=10.0)
        np.testing.assert_allclose(found, error_mm, atol=1e-3)
        assert inside.all()
    beyond = np.array([[-100.0, 40.0], [100.0, 40.0]])
    assert not errors_mm(beyond, 100.0 * ring, px_per_mm=10.0)[1].any()


BLANK = np.zeros((40, 40, 3), np.uint8)


def test_the_table_says_the_errors_it_was_given() -> None:
    flat, gap = np.full(40, 0.2), np.zeros(40)
    traced = [
        ContourScore(kind, behind, taps, 5 * flat, 2 * flat, flat, 0.5 * flat, gap)
        for kind in ("outer", "inner")
        for behind in ("hair", "plain", "skin")
        for taps in (3, 4)
    ]
    dots = [
        DotScore(kind, True, 0.3, 0.15, 3.0, 0.2, "hair", "12 MP")
        for kind in ("square-on", "foreshortened", "edge")
    ]
    dots += [DotScore("pair", False, float("nan"), float("nan"), 3.0, 0.9, "skin", "3 MP", True)]
    dots += [
        DotScore(kind, kind == "smear", float("nan"), float("nan"), 0.0, 0.0, "skin", "3 MP")
        for kind in ("skin", "freckle", "hair", "shadow", "ghost", "smear")
    ]
    table = marking_table(traced, dots, 12)
    assert (
        "| outer, hair, 3 | 1 | 1.000 | 0.400 | 0.200 | 0.20 | 0 | 0.200 | 0.100 | 2.00 |" in table
    )
    assert "| **all** | 4 | 25 | 0.30 | 0.30 | 1.41 |" in table
    assert "| **all, 12 MP** | 3 | 0 | 0.30 | 0.30 | 1.41 |" in table
    assert "| **all, 3 MP** | 1 | 100 | - | - | - |" in table
    assert "| all, 2 px wide and more, no tap midway | 3 | 0 | 0.30 | 0.30 | 1.41 |" in table
    assert "| edge, less than 30% of its width | 1 | 0 | 0.30 | 0.30 | 1.41 |" in table
    assert "| of these before hair | 1 | 0 | 0.30 | 0.30 | 1.41 |" in table
    assert "30% of its width and more" not in table
    assert "Of 6 taps where there is no dot, 16.7 % snapped" in table


@pytest.mark.parametrize("kind", ["square-on", "skin"])
def test_a_scene_is_scored(kind: str) -> None:
    found = dot_score((SEED, 1, kind))
    assert found is not None
    assert found.snapped == (kind == "square-on")
    assert found.error_px < 1.0 or kind == "skin"


@pytest.mark.parametrize("scene", [(101, 13, "square-on"), (91, 6, "foreshortened")])
def test_a_dot_beside_a_fold_or_unevenly_inked_is_found(scene: tuple[int, int, str]) -> None:
    """A fold close to a small picture's dot; two dark places within one dot."""
    found = dot_score(scene)
    assert found is not None
    assert found.error_px < 0.5


def test_a_tap_means_the_dot_nearest_to_it() -> None:
    pair = np.array([[10.0, 10.0], [22.0, 10.0]])
    for x, nearest in ((14.0, 0), (17.5, 1)):
        scene = DotScene(
            "pair",
            np.zeros((40, 40, 3), np.uint8),
            8.0,
            np.array([x, 11.0]),
            pair,
            1.0,
            1.0,
            8.0,
            "3 MP",
        )
        np.testing.assert_array_equal(scene.dot_px, pair[nearest])
    bare = DotScene(
        "skin",
        np.zeros((9, 9, 3), np.uint8),
        8.0,
        np.zeros(2),
        np.zeros((0, 2)),
        1.0,
        0.0,
        0.0,
        "3 MP",
    )
    assert bare.dot_px is None


def test_the_speed_table_has_ratios() -> None:
    table = speed_table({"card": (310.0, 300.0), "snap": (33.0, 30.0)}, "load 0.5")
    assert "| snap | 33 | 30 | 0.10 |" in table
