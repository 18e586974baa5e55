"""What settling promises holds: the step is taken many times, and the outcomes are counted.

The photo is of a flat card, drawn by the test; nothing of it was used to choose a figure.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA, Criteria, Limit
from assess.marks import CardMarks
from assess.measure import measure
from assess.read_marks import parse_marks
from assess.reading import read_view
from assess.repeatability import U_DEFINITION_MM
from assess.result import PlacementOut
from calibration.card import FRAME
from calibration.photo import read_photo

TIMES, DRAWS = 200, 2000
MM_PER_PX = 280.0 / 1500.0
"""The camera stands 280 mm before the card and has 1500 px of focal length."""

U_MARK_MM = 0.2
CRITERIA = Criteria(
    "near", "1", {**DEFAULT_CRITERIA.limits, "channel": Limit(6.8, 20.0), "relief": Limit(1, None)}
)
READ = {"relief_mm": 5.0, "u_relief_mm": 0.2, "fold_depth_mm": 8.0, "u_fold_depth_mm": 0.2}

Measure = Callable[[dict[str, Any]], PlacementOut]


@pytest.fixture(scope="module")
def measured(flat_photo: bytes) -> Measure:
    photo = read_photo(flat_photo)
    known = read_view(photo, file="flat.jpg", card=CardMarks(id=FRAME.id))
    assert known.seen is not None

    def run(document: dict[str, Any]) -> PlacementOut:
        found = measure(
            parse_marks(document),
            {"flat.jpg": photo},
            criteria=CRITERIA,
            draws=DRAWS,
            known={"flat.jpg": known},
        )
        return found.result.placements[0]

    return run


def today(flat_document: dict[str, Any], **read: float) -> dict[str, Any]:
    """Return the flat card's marks, each known to 0.2 mm, everything but the channel in order."""
    document = copy.deepcopy(flat_document)
    document["rim_plane"] = {"offset_mm": 0, "u_offset_mm": 0.5, "u_tilt_deg": 1}
    document["card"]["check_bar_mm"] = [100.0, 100.0]
    (photo,) = document["photos"]
    for line in ("outer_rim", "inner_rim", "head_up", "ties"):
        photo.pop(line)
    photo["sigma_px"] = U_MARK_MM / MM_PER_PX
    document["caliper"] = {"only": {**READ, **read}}
    return document


def promised(found: PlacementOut, step: str) -> float:
    (chance,) = [each.chance_of_definite for each in found.settle if each.step == step]
    assert chance is not None
    return chance


def scatter(chance: float) -> float:
    """Return three and a half standard deviations of a share among so many."""
    return 3.5 * float(np.sqrt(chance * (1 - chance) / TIMES))


def test_marking_again_settles_it_as_often_as_promised(
    measured: Measure, flat_document: dict[str, Any]
) -> None:
    """Truth is drawn about today's marks, two more marks about that truth; the mean is measured."""
    document = today(flat_document)
    before = measured(document)
    assert before.verdict == "undecided"
    rng = np.random.default_rng(11)
    hand_mm2 = U_MARK_MM**2 - U_DEFINITION_MM**2
    u_hand_px = hand_mm2**0.5 / MM_PER_PX
    document["photos"][0]["sigma_px"] = (hand_mm2 / 3 + U_DEFINITION_MM**2) ** 0.5 / MM_PER_PX
    (placement,) = document["photos"][0]["placements"]
    marks = {end: np.array(placement[end]) for end in ("entry", "exit")}
    settled = 0
    for _ in range(TIMES):
        for end, mark in marks.items():
            truth = mark - u_hand_px * rng.standard_normal(2)
            more = truth + u_hand_px * rng.standard_normal((2, 2))
            placement[end] = ((mark + more.sum(axis=0)) / 3).tolist()
        settled += measured(document).verdict != "undecided"
    chance = promised(before, "mark_again")
    assert 0.2 < chance < 0.9
    assert settled / TIMES == pytest.approx(chance, abs=scatter(chance))


def test_calipers_settle_it_as_often_as_promised(
    measured: Measure, flat_document: dict[str, Any]
) -> None:
    """The channel is drawn as today's result believes it, the calipers read it to 0.3 mm."""
    document = today(flat_document)
    before = measured(document)
    assert before.channel is not None
    rng = np.random.default_rng(12)
    settled = 0
    for _ in range(TIMES):
        channel = before.channel.value + before.channel.u * rng.standard_normal()
        read = channel + 0.3 * rng.standard_normal()
        document["caliper"]["only"] |= {"channel_mm": float(read), "u_channel_mm": 0.3}
        settled += measured(document).verdict != "undecided"
    chance = promised(before, "calipers")
    assert 0.2 < chance < 0.9
    assert settled / TIMES == pytest.approx(chance, abs=scatter(chance))
