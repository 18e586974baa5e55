"""Which marks count for the scatter between piercers, and how levels are pooled."""

from __future__ import annotations

import math

import numpy as np
import pytest

from assess.between_piercers import between_piercers, one_way
from assess.repeatability import MarkSample


def marks(by: str, places: list[float], point: str = "entry", photo: str = "p") -> list[MarkSample]:
    return [MarkSample(by, photo, "1", point, i, x, 0.0) for i, x in enumerate(places, 1)]


def test_by_hand() -> None:
    """A marks 0 and 2, B 4 and 6: within 1 + 1 + 1 + 1 on 2, between 2 · (2² + 2²) on 1."""
    found = one_way([[np.array([0.0, 2.0]), np.array([4.0, 6.0])]])
    assert found is not None
    assert found.s_r**2 == pytest.approx(2.0)
    assert found.s_L**2 == pytest.approx((16 - 2) / 2)
    assert found.s_R**2 == pytest.approx(9.0)


def test_equal_levels_pooled_say_the_same_with_more_behind_it() -> None:
    level = [np.array([0.0, 2.0]), np.array([4.0, 6.0, 5.0])]
    one, three = one_way([level]), one_way([level, [c + 30 for c in level], level])
    assert one is not None
    assert three is not None
    assert (three.s_r, three.s_L) == pytest.approx((one.s_r, one.s_L))
    assert (three.dof_within, three.dof_between) == (9, 3)


def test_points_that_only_one_marked_are_left_out() -> None:
    shared = [*marks("A", [0.0, 0.2]), *marks("B", [0.5, 0.7])]
    alone = marks("A", [0.0, 9.0], point="exit")
    found = between_piercers([*shared, *alone])
    assert found is not None
    assert (found.photos, found.points, found.piercers) == (1, 1, 2)
    assert found == between_piercers(shared)
    # Two coordinates, of which y never moved: half the squares of x alone.
    assert found.precision.s_r == pytest.approx(math.sqrt(0.02 * 2 / 4))


def test_photos_and_piercers_are_counted() -> None:
    found = between_piercers(
        [
            *marks("A", [0.0, 0.2]),
            *marks("B", [0.5, 0.7]),
            *marks("B", [0.0, 0.2], photo="q"),
            *marks("C", [0.3], photo="q"),
        ]
    )
    assert found is not None
    assert (found.photos, found.points, found.piercers) == (2, 2, 3)


@pytest.mark.parametrize(
    "samples",
    [
        [],
        marks("A", [0.0, 0.1, 0.2]),
        [*marks("A", [0.0]), *marks("B", [1.0])],  # nobody repeated: within isn't known
        [*marks("A", [0.0, 1.0]), *marks("B", [1.0, 2.0], photo="q")],
    ],
)
def test_too_little_says_nothing(samples: list[MarkSample]) -> None:
    assert between_piercers(samples) is None
