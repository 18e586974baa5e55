"""Places, axes and lengths along a rim, and its mirror image."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assess.plan import OffRim, Plan, Planned, differences, lay, onto
from assess.rim_curve import rim_curve
from tests.assess.rims import ring

CIRCLE = ring((20.0, 20.0), (14.0, 14.0))
ELLIPSE = ring()


def planned(arcs: list[float], leans: list[float]) -> Plan:
    named = zip("ABCDE", arcs, leans, strict=False)
    return Plan(tuple(Planned(name, arc, lean) for name, arc, lean in named))


def test_along_the_normal_of_a_circular_ring_the_channel_is_as_long_as_its_radii_differ() -> None:
    laid = lay(planned([10.0, 25.0, 40.0], [0.0] * 3), CIRCLE)
    assert not isinstance(laid, OffRim)
    np.testing.assert_allclose(np.hypot(*(laid.exit_mm - laid.entry_mm).T), 6.0, atol=0.01)
    np.testing.assert_allclose(np.hypot(*(laid.entry_mm - 60.0).T), 20.0, atol=0.01)


def test_a_leaning_axis_through_a_circular_ring_has_the_length_of_its_chord() -> None:
    """Closed form: t = R cos a - sqrt(r² - R² sin² a)."""
    for lean in (-25.0, -10.0, 15.0, 30.0):
        laid = lay(planned([25.0], [lean]), CIRCLE)
        assert not isinstance(laid, OffRim)
        a = np.deg2rad(lean)
        chord = 20.0 * np.cos(a) - np.sqrt(14.0**2 - (20.0 * np.sin(a)) ** 2)
        assert np.hypot(*(laid.exit_mm - laid.entry_mm)[0]) == pytest.approx(chord, abs=0.02)


def test_an_axis_that_misses_the_inner_contour_is_named() -> None:
    found = lay(planned([25.0, 30.0], [0.0, 80.0]), CIRCLE)
    assert found == OffRim(("B",))
    assert lay(planned([-1.0], [0.0]), CIRCLE) == OffRim(("A",))


def test_an_upright_axis_points_down_along_the_head() -> None:
    tilted = rim_curve(ELLIPSE.outer_mm, ELLIPSE.inner_mm, up=np.array([0.3, -1.0]))
    arc = np.array([20.0, 30.0, 40.0])
    way = tilted.direction(arc, tilted.lean_of(arc, -tilted.up))
    np.testing.assert_allclose(way, np.tile(-tilted.up, (3, 1)), atol=1e-12)


def test_the_top_of_an_ellipse_is_its_vertex() -> None:
    top = ELLIPSE.top_mm()
    assert top is not None
    np.testing.assert_allclose(ELLIPSE.at(np.array(top)), [60.0, 60.0 - 22.0], atol=0.01)
    # A quarter of its way round: Ramanujan's length of the whole ellipse over four.
    h = ((17.0 - 22.0) / (17.0 + 22.0)) ** 2
    whole = np.pi * 39.0 * (1.0 + 3.0 * h / (10.0 + np.sqrt(4.0 - 3.0 * h)))
    assert top == pytest.approx(whole / 4.0, abs=0.02)


def test_a_contour_that_does_not_go_over_the_top_has_none() -> None:
    assert ring(span=(1.55, 1.95)).top_mm() is None


arcs = st.lists(st.floats(3.0, 45.0), min_size=1, max_size=5)
leans = st.lists(st.floats(-30.0, 30.0), min_size=5, max_size=5)


@settings(deadline=None)
@given(arcs, leans)
def test_to_the_mirrored_ear_and_back_a_plan_is_itself(arc: list[float], lean: list[float]) -> None:
    plan, there = planned(arc, lean), ELLIPSE.mirrored()
    moved = onto(plan, ELLIPSE, there)
    back = onto(moved.plan, there, ELLIPSE)
    assert moved.by_top
    np.testing.assert_allclose(back.plan.arc_mm, plan.arc_mm, atol=1e-9)
    assert back.plan.lean_deg.tolist() == plan.lean_deg.tolist()
    # On the mirror image itself it lies at the mirror image of every end.
    here, image = lay(plan, ELLIPSE), lay(moved.plan, there)
    if isinstance(here, OffRim) or isinstance(image, OffRim):
        assert here == image
        return
    for ours, theirs in ((here.entry_mm, image.entry_mm), (here.exit_mm, image.exit_mm)):
        np.testing.assert_allclose(theirs, ours * [-1.0, 1.0], atol=1e-6)
    for each in differences(plan, ELLIPSE, there):
        assert each.arc_mm == pytest.approx(0.0, abs=1e-9)
        assert each.channel_mm == pytest.approx(0.0, abs=1e-6)


@settings(deadline=None)
@given(arcs, leans)
def test_to_an_ear_of_another_shape_and_back_a_plan_is_itself(
    arc: list[float], lean: list[float]
) -> None:
    plan, there = planned(arc, lean), ring((16.0, 23.0), (10.0, 16.0)).mirrored()
    back = onto(onto(plan, ELLIPSE, there).plan, there, ELLIPSE).plan
    np.testing.assert_allclose(back.arc_mm, plan.arc_mm, atol=1e-9)


def test_the_difference_to_the_other_ear_is_told_in_mm() -> None:
    """The other ear's rim is 1 mm thicker, and one dot lies 2 mm further back than mirrored."""
    thicker = ring((20.0, 20.0), (13.0, 13.0)).mirrored()
    plan = planned([20.0, 30.0], [0.0, 0.0])
    there = onto(plan, CIRCLE, thicker).plan
    moved = there.dragged("B", there.placements[1].arc_mm + 2.0)
    first, second = differences(plan, CIRCLE, thicker, moved)
    assert (first.label, second.label) == ("A", "B")
    assert first.channel_mm == pytest.approx(1.0, abs=0.02)
    assert first.arc_mm == pytest.approx(0.0, abs=1e-9)
    assert second.arc_mm == pytest.approx(2.0, abs=1e-9)


def test_a_plan_has_one_to_five_placements_with_labels_of_their_own() -> None:
    with pytest.raises(ValueError, match="1 to 5"):
        Plan(())
    with pytest.raises(ValueError, match="1 to 5"):
        Plan(tuple(Planned(name, 1.0) for name in "ABCDEF"))
    with pytest.raises(ValueError, match="labels of their own"):
        Plan((Planned("A", 1.0), Planned("A", 9.0)))
    with pytest.raises(ValueError, match="no placement"):
        Plan((Planned("A", 1.0),)).dragged("B", 2.0)
