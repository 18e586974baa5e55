"""Distances between posts, bars and lines against shapely's."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from assess.spacing import between_segments, to_segment

numbers = st.integers(-40_000, 40_000).map(lambda micron: micron / 1000.0)
points = st.tuples(numbers, numbers)


@pytest.mark.published(source="shapely 2 (GEOS)", where="distance of two LineStrings")
@settings(deadline=None)
@given(points, points, points, points)
def test_distances_between_segments_are_shapely_s(
    p: tuple[float, float],
    q: tuple[float, float],
    a: tuple[float, float],
    b: tuple[float, float],
) -> None:
    theirs = shapely.distance(shapely.LineString([p, q]), shapely.LineString([a, b]))
    ours = between_segments(*(np.array(point) for point in (p, q, a, b)))
    assert float(ours) == pytest.approx(theirs, abs=1e-7)


@pytest.mark.published(source="shapely 2 (GEOS)", where="distance of a Point and a LineString")
@settings(deadline=None)
@given(points, points, points)
def test_distances_to_a_segment_are_shapely_s(
    p: tuple[float, float], a: tuple[float, float], b: tuple[float, float]
) -> None:
    theirs = shapely.distance(shapely.Point(p), shapely.LineString([a, b]))
    assert float(to_segment(np.array(p), np.array(a), np.array(b))) == pytest.approx(
        theirs, abs=1e-9
    )


@pytest.mark.published(source="closed form", where="two segments that cross are 0 apart")
def test_segments_that_cross_touch() -> None:
    cross = between_segments(*np.array([[0.0, 0.0], [4.0, 4.0], [0.0, 4.0], [4.0, 0.0]]))
    assert float(cross) == 0.0
