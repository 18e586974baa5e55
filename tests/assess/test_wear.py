"""Clearance of worn things against shapely's distances, and what is said of it."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from assess.ends import End
from assess.wear import Site, WornLine, wear_clearance
from calibration.draws import Draws

DISC, BALL = End("disc", 4.0, 1.0), End("ball", 3.0, 3.0)
ENTRY, EXIT = np.array([60.0, 40.0]), np.array([62.0, 47.0])
EXACT = Draws(1, 2)
places = st.tuples(st.integers(45_000, 75_000), st.integers(25_000, 62_000))


def site(exposed: float, count: int, u: float = 0.0) -> Site:
    out = np.full(count, exposed)
    return Site("A", ENTRY, EXIT, (BALL, DISC), (out, out), u)


def solid(exposed: float, at_exit: bool) -> shapely.Geometry:
    """Return post and end outside the skin as shapely has them."""
    (place, other), end = ((EXIT, ENTRY), DISC) if at_exit else ((ENTRY, EXIT), BALL)
    out = (place - other) / np.hypot(*(place - other))
    across = np.array([-out[1], out[0]]) * end.width_mm / 2
    near, far = place + exposed * out, place + (exposed + end.height_mm) * out
    box = shapely.Polygon([near - across, near + across, far + across, far - across])
    return shapely.union(box, shapely.LineString([place, near]))


@pytest.mark.published(source="shapely 2 (GEOS)", where="distance of a LineString and a shape")
@settings(max_examples=200, deadline=None)
@given(st.lists(places, min_size=2, max_size=6), st.integers(100, 4000))
def test_clearances_are_shapely_s(line: list[tuple[int, int]], exposed: int) -> None:
    points = np.array(line) / 1000.0
    worn = WornLine("glasses", points, u_mark_mm=0.0)
    found = wear_clearance(worn, site(exposed / 1000.0, 2), "now", EXACT, u_scale=0.0)
    for each, at_exit in zip(found, (False, True), strict=True):
        theirs = shapely.distance(shapely.LineString(points), solid(exposed / 1000.0, at_exit))
        assert each.distance.value == pytest.approx(float(theirs), abs=1e-6)


def test_touches_close_and_clear() -> None:
    """A level strap above the entry: the ball's top is 1.5 + 3 mm out along the axis."""
    out = (ENTRY - EXIT) / np.hypot(*(ENTRY - EXIT))
    top = float((ENTRY + 4.5 * out)[1])
    draws = Draws(1, 20_000)

    def strap(above: float) -> WornLine:
        y = top - above
        return WornLine("headset", np.array([[40.0, y], [80.0, y]]))

    said = [
        wear_clearance(strap(above), site(1.5, draws.count, 0.2), "now", draws)[0].says
        for above in (-2.0, 1.6, 6.0)
    ]
    assert said == ["touches", "close", "clear"]
    far = wear_clearance(strap(6.0), site(1.5, draws.count, 0.2), "now", draws)[1]
    assert far.side == "exit"
    assert far.says == "clear"


def test_after_downsizing_there_is_more_room() -> None:
    draws = Draws(1, 5000)
    worn = WornLine("mask", np.array([[40.0, 33.0], [80.0, 33.0]]))
    now, _ = wear_clearance(worn, site(1.5, draws.count), "now", draws)
    later, _ = wear_clearance(worn, site(0.4, draws.count), "downsized", draws)
    out = (ENTRY - EXIT) / np.hypot(*(ENTRY - EXIT))
    assert later.distance.value - now.distance.value == pytest.approx(-1.1 * out[1], abs=0.01)


def test_its_uncertainty_is_that_of_the_marks_and_the_scale() -> None:
    """A level line right above an upright post: both marks' u add in quadrature, and 1 %."""
    draws = Draws(1, 100_000)
    worn = WornLine("hat", np.array([[40.0, 20.0], [60.0, 20.0], [80.0, 20.0]]), 0.3)
    there = Site(
        "A",
        np.array([60.0, 40.0]),
        np.array([60.0, 400.0]),  # far away, so that its mark hardly turns the axis
        (End("disc", 0.01, 1.0), DISC),
        (np.full(draws.count, 1.0), np.full(draws.count, 1.0)),
        0.2,
    )
    above, _ = wear_clearance(worn, there, "now", draws, u_scale=0.01)
    assert above.distance.value == pytest.approx(18.0, abs=0.05)
    assert above.distance.u == pytest.approx(np.sqrt(0.3**2 + 0.2**2 + 0.18**2), rel=0.02)


def test_a_line_has_two_points() -> None:
    with pytest.raises(ValueError, match="at least 2"):
        WornLine("hat", np.array([[1.0, 2.0]]))
