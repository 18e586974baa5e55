"""The page of repeated marks: each piercer's scatter, and the scatter between piercers."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from typing import Any

import numpy as np
import pytest

from assess.between_piercers import between_piercers
from assess.repeatability import MarkSample, Scatter, mark_uncertainty, scatter_by_piercer
from calibration.quantity import Quantity
from rimspan.screens import repeat_words, svg
from rimspan.screens.scatter_rule import LEFT, Tenths, scatter_bars, scatter_rule

NS = "{http://www.w3.org/2000/svg}"
ALEX, KIM = "Alex Invented", "Kim <b>Sample</b>"


def hand(by: str, passes: int, sigma_mm: float, shift_mm: float = 0.0) -> list[MarkSample]:
    rng = np.random.default_rng(len(by) + passes)
    return [
        MarkSample(by, "a" * 64, "1", point, i, *(shift_mm + sigma_mm * rng.standard_normal(2)))
        for point in ("entry", "exit")
        for i in range(1, passes + 1)
    ]


def keep(visit: Any, *hands: list[MarkSample]) -> list[MarkSample]:
    client = visit.file.create_client("Robin Example").id
    for samples in hands:
        visit.file.repeats.save(client, "a" * 64, samples[0].by, samples)
    return [sample for samples in hands for sample in samples]


def test_an_empty_page_says_how_to_begin(visit: Any) -> None:
    words = visit.open("repeatability").words
    assert visit.title == "How well marks repeat"
    assert repeat_words.BEGIN in words
    assert "2 to 5 times in all" in words
    assert "<svg" not in words


def test_each_piercer_has_a_sigma_its_between_and_what_stands_behind_it(visit: Any) -> None:
    samples = keep(visit, hand(ALEX, 5, 0.12), hand(KIM, 2, 0.3))
    words = visit.open("repeatability").words
    for name, scatter in scatter_by_piercer(samples).items():
        found = scatter.quantity
        said = f"{found.value:.2f} mm, between {found.low:.2f} and {found.high:.2f}"
        assert said in words, name
        assert f'aria-label="scatter {said}"' in words
    assert "16 degrees of freedom stand behind it, from 2 points in 1 photo." in words
    assert "That is enough to take the place of the assumed 0.2 mm" in words
    assert "4 degrees of freedom stand behind it, from 2 points in 1 photo. From 8 on" in words


def test_names_are_shown_as_text(visit: Any) -> None:
    keep(visit, hand(KIM, 3, 0.2))
    visit.open("repeatability")
    drawn = "\n".join(str(each.value) for each in visit.at.markdown)
    assert "<h2>Kim &lt;b&gt;Sample&lt;/b&gt;</h2>" in drawn


def test_one_piercer_alone_is_told_how_to_compare(visit: Any) -> None:
    keep(visit, hand(ALEX, 3, 0.2))
    assert repeat_words.NOT_SHARED in visit.open("repeatability").words


def test_piercers_on_the_same_photo_are_compared(visit: Any) -> None:
    samples = keep(visit, hand(ALEX, 5, 0.1), hand(KIM, 4, 0.1, shift_mm=0.6))
    found = between_piercers(samples)
    assert found is not None
    assert found.precision.s_L > 0.3
    words = visit.open("repeatability").words
    assert f"One piercer, from time to time (s_r): {found.precision.s_r:.2f} mm" in words
    assert f"From piercer to piercer (s_L): {found.precision.s_L:.2f} mm" in words
    assert "From 1 photo, 2 points and 2 piercers." in words
    assert repeat_words.NOT_SHARED not in words


def test_no_difference_seen_is_no_proof_that_there_is_none() -> None:
    same = [*hand(ALEX, 5, 0.1), *hand("Kim", 5, 0.1)]
    centred = [
        MarkSample(s.by, s.photo, s.label, s.point, s.number, s.x_mm - x, s.y_mm - y)
        for s in same
        for x, y in [np.mean([(t.x_mm, t.y_mm) for t in same if _cell(t) == _cell(s)], axis=0)]
    ]
    found = between_piercers(centred)
    assert found is not None
    assert found.precision.s_L == 0.0
    assert "no proof that they agree" in " ".join(repeat_words.between_words(found))


def _cell(sample: MarkSample) -> tuple[str, str]:
    return sample.by, sample.point


def test_the_start_page_leads_there(visit: Any) -> None:
    visit.run()
    links = [each.proto for each in visit.at.get("page_link")]
    assert any(link.page == "repeatability" for link in links)


@pytest.mark.parametrize(
    ("dof", "u"),
    [
        (8, "0.14"),  # 0.12 · sqrt(8 / 6)
        (6, "0.16"),  # sqrt((6 · 0.2² + 6 · 0.12²) / 12)
    ],
)
def test_what_is_used_is_said(dof: int, u: str) -> None:
    said = repeat_words.used_words(mark_uncertainty(Scatter(0.12, dof, 2, 1)))
    assert f"a mark of this hand counts as uncertain by {u} mm." in said


def test_the_definition_is_named_as_an_assumption() -> None:
    said = repeat_words.mean_words(mark_uncertainty(None))
    # sqrt(0.2² / 3 + 0.1²)
    assert "A point marked 3 times counts as uncertain by 0.15 mm" in said
    assert "assumption: common practice, no source" in said


def rects(drawing: str) -> list[tuple[float, float]]:
    return [
        (float(r.get("x", "0")), float(r.get("width", "0")))
        for r in ET.fromstring(drawing).iter(f"{NS}rect")
        if r.get("fill") == svg.ACCENT
    ]


def test_the_bar_lies_at_its_millimetres() -> None:
    drawing = scatter_rule(Quantity(0.14, 0.02, 0.11, 0.2, "mm"), 0.2, 0.5, "words")
    rule = Tenths(0.5)
    ((start, width),) = rects(drawing)
    assert (start - LEFT) / rule.px_per_mm == pytest.approx(0.11, abs=0.001)
    assert width / rule.px_per_mm == pytest.approx(0.09, abs=0.001)
    (assumed,) = re.findall(r'd="M([\d.]+) 18 V50"', drawing)
    assert (float(assumed) - LEFT) / rule.px_per_mm == pytest.approx(0.2, abs=0.001)
    ticks = [t.text for t in ET.fromstring(drawing).iter(f"{NS}text")]
    assert ticks == ["assumed 0.2", "0", "0.1", "0.2", "0.3", "0.4", "0.5 mm"]


@pytest.mark.parametrize("longest", [0.01, 0.5, 0.73, 1.4, 3.0, 8.0, 40.0])
def test_every_length_has_room_on_the_rule(longest: float) -> None:
    rule = Tenths(longest)
    assert rule.x(longest) <= 462.0 + 1e-6
    assert 1 <= rule.ticks <= 10


def test_bars_have_their_lengths_and_words() -> None:
    drawing = scatter_bars([("within", 0.1), ("between", 0.25)])
    widths = [width for _, width in rects(drawing)]
    assert widths[1] / widths[0] == pytest.approx(2.5, rel=0.01)
    texts = [t.text for t in ET.fromstring(drawing).iter(f"{NS}text")]
    assert texts[:2] == ["within: 0.10 mm", "between: 0.25 mm"]
    assert ET.fromstring(drawing).get("aria-label") == "within: 0.10 mm; between: 0.25 mm"
