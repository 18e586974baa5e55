"""Looking for a dot along a line, on skin whose spots are drawn."""

from __future__ import annotations

import numpy as np
import pytest

from tests.tracing.conftest import INKS, Patch, skin
from tracing.along import BESIDE_MM, FARTHEST_MM, STEP_MM, places_on, snap_along
from tracing.dots import Dot, NoDot

MM_PER_PX = 0.1
SIZE = (240, 120)
LINE = np.column_stack([np.linspace(10.0, 230.0, 12), np.full(12, 60.0)])
VIOLET = INKS["violet"]


def spot(x: float, y: float) -> Patch:
    return Patch((x, y), (5.0, 5.0), VIOLET)


@pytest.mark.parametrize("away_mm", [0.0, 1.4, -4.0, 6.0])
def test_a_dot_on_the_line_is_found_wherever_it_may_lie(away_mm: float) -> None:
    at = 110.0 + away_mm / MM_PER_PX, 61.3
    found = snap_along(skin([spot(*at)], size=SIZE), LINE, 5, MM_PER_PX)
    assert isinstance(found, Dot)
    np.testing.assert_allclose(found.point_px, at, atol=0.2)


def test_of_two_on_the_line_the_likelier_is_taken() -> None:
    picture = skin([spot(95.0, 60.0), spot(150.0, 60.0)], size=SIZE)
    found = snap_along(picture, LINE, 5, MM_PER_PX)
    assert isinstance(found, Dot)
    assert found.point_px[0] == pytest.approx(95.0, abs=0.2)


@pytest.mark.parametrize(
    "at",
    [
        (110.0, 60.0 + (BESIDE_MM + 0.6) / MM_PER_PX),
        (110.0 - (FARTHEST_MM + 1.5) / MM_PER_PX, 60.0),
    ],
    ids=["beside the line", "too far along it"],
)
def test_a_dot_elsewhere_is_another_one(at: tuple[float, float]) -> None:
    found = snap_along(skin([spot(*at)], size=SIZE), LINE, 5, MM_PER_PX)
    assert isinstance(found, NoDot)
    assert found.sentence == "No pen dot is seen along the line."


def test_places_go_outward_and_stay_on_the_line() -> None:
    rings = places_on(LINE, 1, MM_PER_PX)
    away = [((ring[:, 0] - LINE[1, 0]) * MM_PER_PX / STEP_MM).round(6).tolist() for ring in rings]
    np.testing.assert_allclose(np.concatenate(rings)[:, 1], 60.0)
    back = (LINE[1, 0] - LINE[0, 0]) * MM_PER_PX / STEP_MM
    assert away[:3] == [[0.0], [-1.0, 1.0], [-2.0, 2.0] if back >= 2.0 else [2.0]]
    assert all(len(ring) <= 2 for ring in away)
    assert min(min(ring, default=0.0) for ring in away) >= -back
