"""Gauges and inch fractions against their definitions."""

from fractions import Fraction

import numpy as np
import pytest

from assess.criteria import DEFAULT_CRITERIA
from assess.posts import PostChoice, choose_post, default_stock, gauge_mm, inch_name, inches_mm


@pytest.mark.published(source="ASTM B258, formula as given in an encyclopedia", where="d(n)")
@pytest.mark.parametrize(
    ("number", "diameter_mm"),
    [(20, 0.8118), (18, 1.0237), (16, 1.2908), (14, 1.6277), (12, 2.0525), (10, 2.5882)],
)
def test_gauge_numbers_have_their_exact_diameters(number: int, diameter_mm: float) -> None:
    # Half of the last printed digit.
    assert gauge_mm(number) == pytest.approx(diameter_mm, abs=0.00005)


@pytest.mark.published(source="ASTM B258, formula as given in an encyclopedia", where="anchors")
def test_gauge_36_is_five_thousandths_and_each_step_has_one_ratio() -> None:
    assert gauge_mm(36) / 25.4 == pytest.approx(0.005, abs=1e-9)
    assert gauge_mm(-3) / 25.4 == pytest.approx(0.46, abs=1e-9)
    assert gauge_mm(15) / gauge_mm(16) == pytest.approx(1.12293, abs=0.000005)


@pytest.mark.published(source="The inch is 25.4 mm exactly", where="definition")
@pytest.mark.parametrize(
    ("fraction", "length_mm"),
    [
        ("1/4", 6.35),
        ("9/32", 7.14375),
        ("5/16", 7.9375),
        ("11/32", 8.73125),
        ("3/8", 9.525),
        ("13/32", 10.31875),
        ("7/16", 11.1125),
        ("1/2", 12.7),
        ("9/16", 14.2875),
        ("5/8", 15.875),
        ("3/4", 19.05),
    ],
)
def test_inch_fractions_are_exact(fraction: str, length_mm: float) -> None:
    assert inches_mm(Fraction(fraction)) == length_mm
    assert inch_name(length_mm) == f"{fraction} in"


@pytest.mark.memory(source="the trade's rounded millimetres for gauges 20 to 10")
@pytest.mark.parametrize(
    ("number", "rounded_mm"), [(20, 0.8), (18, 1.0), (16, 1.2), (14, 1.6), (12, 2.0)]
)
def test_the_trades_rounded_names_are_not_the_gauge(number: int, rounded_mm: float) -> None:
    assert abs(gauge_mm(number) - rounded_mm) > 0.01


@pytest.mark.practice("common practice, no source")
@pytest.mark.parametrize("channel_mm", [5.5, 6.0, 7.0, 8.5])
def test_a_post_goes_in_oversized_and_is_changed_for_a_shorter_one(channel_mm: float) -> None:
    channel = channel_mm + 0.1 * np.random.default_rng(3).standard_normal(20_000)
    limits = DEFAULT_CRITERIA.limits
    first, later = (
        choose_post(channel, default_stock(), limits[window], limits["post"])
        for window in ("spare_initial", "spare_downsized")
    )
    assert isinstance(first, PostChoice)
    assert isinstance(later, PostChoice)
    assert first.length_mm > later.length_mm > channel_mm
    assert limits["spare_initial"].contains(first.spare_draws.mean())
    assert limits["spare_downsized"].contains(later.spare_draws.mean())
