"""What a healed channel allows later, against closed forms and printed values."""

from fractions import Fraction

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.stats import norm

from assess.later import (
    Healed,
    Piece,
    bounds,
    least_radius_mm,
    least_ring_mm,
    play_needed_mm,
    ring_reach_mm,
    sagitta_mm,
    would_fit,
)
from assess.posts import gauge_mm, inches_mm

CHANNEL = np.random.default_rng(1).normal(7.0, 0.3, 50_000)


@pytest.mark.published(
    source="s = R - sqrt(R² - c²/4), computed from the definition", where="table of sagittas"
)
@pytest.mark.parametrize(
    ("chord", "radius", "rise"),
    [(6, 20, 0.2263), (10, 20, 0.6351), (10, 30, 0.4196), (20, 30, 1.7157)],
)
def test_sagittas_are_the_printed_ones(chord: float, radius: float, rise: float) -> None:
    # Half of the last printed digit.
    found = float(sagitta_mm(np.array(radius), np.array(chord)))
    assert found == pytest.approx(rise, abs=0.00005)
    # Nearly c²/8R.
    assert found == pytest.approx(chord**2 / (8 * radius), rel=0.04)


@pytest.mark.published(source="shapely 2 (GEOS)", where="a bent wire inside a straight hole")
@settings(max_examples=40, deadline=None)
@given(st.floats(8.0, 40.0), st.floats(0.8, 2.0), st.floats(4.0, 10.0))
def test_a_bent_wire_goes_through_a_hole_by_just_the_play_it_needs(
    radius: float, wire: float, channel: float
) -> None:
    """The wire is drawn as an arc with a width; between the hole's ends its extent is measured."""
    needed = float(play_needed_mm(radius, wire, np.array(channel)))
    angle = np.linspace(-1.2, 1.2, 4001)
    arc = radius * np.column_stack([np.sin(angle), 1.0 - np.cos(angle)])
    tube = shapely.LineString(arc).buffer(wire / 2, quad_segs=64)
    slab = shapely.box(-channel / 2, -50.0, channel / 2, 50.0)
    _, low, _, high = shapely.intersection(tube, slab).bounds
    # The hole's far wall touches the outer side; its near wall the inner side at the two edges.
    inner = radius - np.sqrt((radius - wire / 2) ** 2 - channel**2 / 4)
    assert low == pytest.approx(-wire / 2, abs=1e-3)
    assert inner - low == pytest.approx(wire + needed, abs=1e-3)
    assert high > inner
    edge = shapely.intersection(tube, shapely.LineString([(channel / 2, -50), (channel / 2, 50)]))
    assert edge.bounds[3] == pytest.approx(inner, abs=2e-3)


@pytest.mark.published(source="scipy.optimize.brentq", where="the radius at which play is used up")
@settings(deadline=None)
@given(st.floats(4.0, 10.0), st.floats(0.05, 1.0), st.floats(0.8, 2.0))
def test_the_tightest_bend_uses_up_the_play(channel: float, play: float, wire: float) -> None:
    found = float(least_radius_mm(play, wire, np.array(channel)))

    def over(radius: float) -> float:
        return float(play_needed_mm(radius, wire, np.array(channel))) - play

    low = channel / 2 + wire / 2 + 1e-9
    if over(low) <= 0.0:  # play as large as a half circle's rise: any bend goes
        assert play >= channel / 2 - 1e-6
        return
    assert found == pytest.approx(brentq(over, low, 1e5), rel=1e-6)


@pytest.mark.published(source="shapely 2 (GEOS)", where="half an ellipse within a circle")
@settings(max_examples=40, deadline=None)
@given(st.floats(4.0, 10.0), st.floats(1.0, 8.0))
def test_the_smallest_ring_holds_the_tissue_and_a_smaller_one_does_not(
    channel: float, tissue: float
) -> None:
    inner = float(least_ring_mm(np.array(channel), np.array(tissue)))
    angle = np.linspace(-np.pi / 2, np.pi / 2, 721)
    rim = np.column_stack([tissue * np.cos(angle), channel / 2 * np.sin(angle)])

    def holds(diameter: float) -> bool:
        radius = diameter / 2
        centre = np.sqrt(max(radius**2 - channel**2 / 4, 0.0))
        circle = shapely.Point(centre, 0.0).buffer(radius + 1e-6, quad_segs=2000)
        return bool(circle.covers(shapely.LineString(rim * (1 - 1e-6))))

    assert holds(inner * 1.002)
    if tissue > channel / 2:
        assert not holds(max(inner * 0.99, channel * 1.0001)) or inner * 0.99 < channel
        assert float(ring_reach_mm(inner, np.array(channel))) == pytest.approx(tissue, rel=1e-6)
    else:
        assert inner == pytest.approx(channel)


@pytest.mark.published(source="closed form", where="a circle's diameter through its own chord")
def test_a_ring_as_wide_as_the_channel_reaches_its_radius() -> None:
    assert float(ring_reach_mm(10.0, np.array(10.0))) == pytest.approx(5.0)
    assert np.isnan(ring_reach_mm(9.0, np.array(10.0)))
    assert float(ring_reach_mm(10.0, np.array(6.0))) == pytest.approx(5.0 + 4.0)  # 3-4-5


@pytest.mark.published(source="The inch is 25.4 mm exactly; ASTM B258", where="lengths, 16 gauge")
def test_straight_posts_fit_by_their_spare_length() -> None:
    """9/32 in is 7.14375 mm: 0.14 over a channel of 7; 5/16 in leaves 0.94, as wanted."""
    wire = gauge_mm(16)
    assert wire == pytest.approx(1.2908, abs=0.00005)
    short, right, long = (
        would_fit(Piece("straight", wire, inches_mm(Fraction(n, 32))), CHANNEL, None)
        for n in (9, 10, 12)
    )
    assert short is not None
    assert right is not None
    assert long is not None
    assert right.figure.value == pytest.approx(0.9375, abs=0.01)
    assert (right.decides, long.fit) == ("spare length", "would not fit")
    # P(0.3 <= 7.9375 - c <= 1.3), c normal about 7 with u 0.3.
    law = norm(7.9375 - 7.0, 0.3)
    assert right.probability == pytest.approx(law.cdf(1.3) - law.cdf(0.3), abs=0.01)
    assert short.probability < right.probability


@pytest.mark.practice("common practice, no source")
def test_a_long_straight_channel_takes_no_small_ring_and_only_a_gently_curved_bar() -> None:
    tissue = np.full(CHANNEL.shape, 3.0)
    ring = would_fit(Piece("ring", 1.2, 10.0), CHANNEL, tissue)
    assert ring is not None
    assert (ring.fit, ring.decides) == ("would not fit", "bend")
    tight = would_fit(Piece("curved bar", 1.2, 10.0, 9.0), CHANNEL, None)
    assert tight is not None
    assert tight.fit == "would not fit"
    sharp = CHANNEL * 0.0 + 7.0
    gentle = would_fit(Piece("curved bar", 1.2, 40.0, 8.0), sharp, None)
    assert gentle is not None
    assert gentle.fit == "would fit"
    least = bounds(1.2, CHANNEL, tissue, Healed(play_mm=0.2))
    # R = (c²/4 + p²) / 2p + w/2 at c = 7, p = 0.2: 31.3 mm; the mean of draws adds u²/8p.
    assert least.radius.value == pytest.approx(31.325 + 0.3**2 / 1.6, abs=0.03)
    assert least.ring_inner is not None
    assert least.ring_inner.value > 2 * least.radius.value - 1.3
    assert least.radius.u > 2.0
    # Of a ring nothing is said where the tissue that it closes round wasn't measured.
    assert would_fit(Piece("ring", 1.2, 10.0), CHANNEL, None) is None
    assert bounds(1.2, CHANNEL, None).ring_inner is None
