"""A small sample of the second visit's benchmark, and what its committed table says."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from assess.recheck_change import Change
from benchmarks.recheck import score
from benchmarks.recheck_cells import percent
from sample_images.ears import build_ear

TABLE = Path(__file__).resolve().parents[2] / "benchmarks" / "recheck.md"


@pytest.mark.parametrize("changed", [False, True])
def test_a_few_pairs_are_told_near_the_truth(changed: bool) -> None:
    """On an ear that some of the tuning was done on; the scored ones are drawn."""
    ear = build_ear("broad-firm")
    rng = np.random.default_rng(41 + changed)
    scores = [score(ear, "traced", changed=changed, rng=rng) for _ in range(8)]
    said = [s for s in scores if isinstance(s.change, Change)]
    assert len(said) >= 5
    assert np.median([abs(s.tilt_error()) for s in said]) < 3.0
    for end in (0, 1):
        assert np.median([s.shift_error(end) for s in said]) < 1.2
    inside = [s.tilt_inside() and s.shift_inside(0) and s.shift_inside(1) for s in said]
    assert np.mean(inside) >= 0.6  # three in four would all lie inside by chance


def test_a_share_says_of_how_many() -> None:
    assert percent([True, False, True, True]) == "75.0 (4)"
    assert percent([]) == "- (0)"


def test_the_committed_table_says_how_often_a_post_that_stayed_seems_to_move() -> None:
    text = TABLE.read_text(encoding="utf-8")
    found = re.search(r"unchanged, tilt said to have moved \| ([\d.]+) \((\d+)\)", text)
    assert found is not None
    assert 0.0 <= float(found[1]) <= 100.0
