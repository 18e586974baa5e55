"""The drawings say what the numbers say: places in them are read back."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET

import pytest

from assess.result import AgreementOut, PostOptionOut, PostOut
from assess.result_parts import QuantityOut
from rimspan.screens import rules, svg

NS = "{http://www.w3.org/2000/svg}"


def parsed(drawing: str) -> ET.Element:
    return ET.fromstring(drawing)


def words(drawing: str) -> list[str]:
    return [element.text or "" for element in parsed(drawing).iter(f"{NS}text")]


def bars(drawing: str) -> list[tuple[float, float]]:
    """Return start and width of the accent's bars."""
    return [
        (float(r.get("x", "0")), float(r.get("width", "0")))
        for r in parsed(drawing).iter(f"{NS}rect")
        if r.get("fill") == svg.ACCENT
    ]


def band(drawing: str) -> tuple[float, float]:
    return next(
        (float(r.get("x", "0")), float(r.get("width", "0")))
        for r in parsed(drawing).iter(f"{NS}rect")
        if r.get("fill") == "currentColor"
    )


def quantity(value: float, u: float, low: float, high: float) -> QuantityOut:
    return QuantityOut(value=value, u=u, low=low, high=high, unit="mm")


@pytest.mark.parametrize(("side", "turned"), [("left", False), ("right", True)])
def test_the_ear_faces_its_side(side: svg.Side, turned: bool) -> None:
    """The tragus, at the face, is drawn on the left; only a right ear is turned over."""
    first_x = float(re.findall(r"M(\d+)", svg._TRAGUS)[0])
    assert first_x < 36
    drawing = svg.ear(side)
    assert ("scale(-1 1)" in drawing) == turned
    assert parsed(drawing).get("aria-label") == f"{side} ear"


@pytest.mark.parametrize(
    ("seen_from", "turn"), [("above", -12.0), ("below", 12.0), ("behind", 12.0)]
)
def test_the_phone_is_drawn_at_its_angle(seen_from: str, turn: float) -> None:
    drawing = svg.phone(12.0, seen_from)
    assert f"rotate({turn:.1f} " in drawing
    assert words(drawing) == [f"12° from {seen_from}"]


@pytest.mark.parametrize("seen_from", ["above", "below"])
@pytest.mark.parametrize("tilt", [0.0, 12.0, 38.0, 60.0])
def test_the_whole_phone_is_drawn(tilt: float, seen_from: str) -> None:
    drawing = svg.phone(tilt, seen_from)
    height = float(parsed(drawing).get("viewBox", "").split()[3])
    turned = re.search(r"rotate\((-?[\d.]+) 24 ([\d.]+)\)", drawing)
    assert turned is not None
    turn, middle = math.radians(float(turned[1])), float(turned[2])
    corners = [
        middle + (x - 24) * math.sin(turn) + y * math.cos(turn)
        for x in (106, 115)
        for y in (-24, 24)
    ]
    assert min(corners) >= 0
    assert max(corners) <= height - 16  # the caption stands below


def test_a_photo_without_a_pose_has_no_drawing() -> None:
    assert svg.phone(None, "unknown") == ""
    assert svg.distance(None) == ""


def test_the_distance_is_on_or_off_the_good_stretch() -> None:
    def pointer(mm: float) -> float:
        return float(re.findall(r'd="M([\d.]+) 26 l', svg.distance(mm))[0])

    (good, good_width), (best, best_width) = bars(svg.distance(275))
    assert good < pointer(240) < best < pointer(275) < best + best_width
    assert best + best_width < pointer(310) < good + good_width < pointer(360)
    assert pointer(190) < good
    assert pointer(5000) == pytest.approx(210.0)


@pytest.mark.parametrize(("share", "filled"), [("whole", 116.0), ("half", 58.0), ("empty", 0.0)])
def test_the_verdicts_bar_is_whole_half_or_empty(share, filled: float) -> None:
    assert bars(svg.bar(share, "word"))[0][1] == filled


def test_the_interval_lies_on_the_rule_at_its_millimetres() -> None:
    drawing = rules.criterion_rule(
        {"low": 4.5, "high": 10.0}, quantity(5.4, 0.35, 4.7, 6.1), "channel"
    )
    start, width = band(drawing)
    px_per_mm = width / (10.0 - 4.5)
    origin = start - 4.5 * px_per_mm
    ((at, long),) = bars(drawing)
    assert (at - origin) / px_per_mm == pytest.approx(4.7, abs=0.02)
    assert long / px_per_mm == pytest.approx(6.1 - 4.7, abs=0.02)
    assert "5.4 mm" in words(drawing)


def test_an_open_limit_has_no_second_edge() -> None:
    drawing = rules.criterion_rule({"low": 3.0, "high": None}, None, "relief")
    start, width = band(drawing)
    assert start + width == pytest.approx(rules.RIGHT)
    assert bars(drawing) == []
    assert "not measured" in words(drawing)


def test_posts_are_drawn_at_one_scale() -> None:
    post = PostOut(
        gauge_mm=1.2, length_mm=9.0, spare=quantity(2.0, 0.35, 1.3, 2.7), probability=0.9
    )
    drawing = rules.post_drawing(post, quantity(7.0, 0.35, 6.3, 7.7), "first")
    start, width = bars(drawing)[0]
    tissue_start, tissue = band(drawing)
    assert start == tissue_start
    assert width / tissue == pytest.approx(9.0 / 7.0, rel=1e-3)
    five_mm = float(re.findall(r"20 h([\d.]+)", drawing)[0])
    assert width / five_mm == pytest.approx(9.0 / 5.0, rel=1e-3)
    assert {"channel 7.0 mm", "spare 2.0 mm", "5 mm"} <= set(words(drawing))


def test_words_from_people_are_escaped() -> None:
    assert "<script>" not in svg.picture("", 1, 1, "<script>")
    assert words(svg.picture(svg.text(0, 0, "a < b & c"), 1, 1, "x")) == ["a < b & c"]


def test_photo_and_calipers_stand_below_each_other_on_one_rule() -> None:
    agreement = AgreementOut(
        photo=quantity(7.0, 0.4, 6.2, 7.8),
        caliper=quantity(5.0, 0.3, 4.4, 5.6),
        difference_mm=2.0,
        u_difference_mm=0.5,
        chi_squared=16.0,
        critical=3.84,
        alpha=0.05,
        agrees=False,
    )
    drawing = rules.both_rule(agreement, {"low": 4.5, "high": 10.0}, "both")
    (photo, wide), (caliper, narrow) = bars(drawing)
    assert {"photo 7.0 mm", "calipers 5.0 mm"} <= set(words(drawing))
    assert (photo - caliper) / wide == pytest.approx((6.2 - 4.4) / 1.6, rel=0.02)
    assert wide / narrow == pytest.approx(1.6 / 1.2, rel=0.02)


def test_a_guard_band_is_drawn_dashed_inside_the_limit() -> None:
    limit, measured = {"low": 3.0, "high": None}, quantity(3.6, 0.2, 3.2, 4.0)
    bare = rules.criterion_rule(limit, measured, "relief")
    guarded = rules.criterion_rule(limit, measured, "relief", {"low": 3.4, "high": None})
    assert "dasharray" not in bare
    assert guarded.count("dasharray") == 1


def test_the_likeliest_lengths_have_bars_as_long_as_their_chance() -> None:
    options = [
        PostOptionOut(gauge_mm=1.2, length_mm=length, probability=chance)
        for length, chance in ((9.525, 0.8), (10.31875, 0.4), (8.73125, 0.2))
    ]
    post = PostOut(
        gauge_mm=1.2,
        length_mm=9.525,
        spare=quantity(2.5, 0.4, 1.7, 3.3),
        probability=0.8,
        options=tuple(options),
    )
    drawing = rules.chances(post.options, post, "chances")
    assert [w for w in words(drawing) if "in)" in w] == [
        "8.73 mm (11/32 in)",
        "9.53 mm (3/8 in)",
        "10.32 mm (13/32 in)",
    ]
    lengths = [width for _, width in bars(drawing)]
    assert lengths[1] / lengths[0] == pytest.approx(4.0)
    assert lengths[1] / lengths[2] == pytest.approx(2.0)
    assert 'font-weight="700"' in drawing
