"""One source of words: the result file, the table, the sheet, the picture and the screen agree."""

from __future__ import annotations

import copy
import io
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import jsonschema
import pypdfium2
import pytest
from PIL import Image

import assess
from assess.measure import measure
from assess.post_wording import EXPECTED
from assess.read_marks import parse_marks
from assess.result import PlacementOut, Result
from assess.wording import IF_LIMITS_RIGHT, STEP_WORDS
from calibration.photo import read_photo
from rimspan.commands.table import table
from rimspan.plot_words import _lines
from rimspan.sheets.report import report_pdf

DRAWS = 4000

READ = {
    "undecided": {"relief_mm": 3.2, "u_relief_mm": 0.3, "fold_depth_mm": 6.0},
    "does_not_support": {"relief_mm": 1.0, "u_relief_mm": 0.3, "fold_depth_mm": 6.0},
    "supports": {"relief_mm": 5.0, "u_relief_mm": 0.3, "fold_depth_mm": 6.0},
    "not measured": {},
    "disagreeing": {
        "channel_mm": 5.0,
        "u_channel_mm": 0.3,
        "relief_mm": 5.0,
        "u_relief_mm": 0.3,
        "fold_depth_mm": 6.0,
    },
}
"""Caliper readings beside a channel of 7 mm in the photo."""


@dataclass(frozen=True)
class Confirmed:
    piercer: str = "Demo Piercer (invented)"
    digest: str = "0123456789abcdef" * 4
    statement: str = "I examined this ear and I decide."


@dataclass(frozen=True)
class Measured:
    result: dict[str, Any]
    digest: str = "0123456789abcdef" * 4


@pytest.fixture(scope="module", params=list(READ))
def result(
    request: pytest.FixtureRequest, flat_document: dict[str, Any], flat_photo: bytes
) -> Result:
    document = copy.deepcopy(flat_document)
    read = READ[request.param]
    if read:
        document["caliper"] = {"only": {"u_fold_depth_mm": 0.2, **read}}
    photos = {"flat.jpg": read_photo(flat_photo)}
    return measure(parse_marks(document), photos, draws=DRAWS).result


def plain(text: str) -> str:
    """Return text with single spaces, as it reads: lines break where they like."""
    return " ".join(text.replace("\ufffe", "").split())


def sentences(placement: PlacementOut) -> Iterator[str]:
    """Return everything that the result file says of a placement in whole sentences."""
    yield placement.headline
    assert placement.risk is not None
    yield placement.risk.sentence
    yield from placement.notes
    yield from (reason.sentence for reason in placement.reasons)
    for post in (placement.posts.initial, placement.posts.downsized):
        said = getattr(post, "sentence", None) or getattr(post, "none", None)
        assert said
        yield said
    yield from (s.sentence for s in placement.settle if s.helps and s.chance_of_definite)


def printed(result: Result) -> str:
    stream = io.BytesIO()
    Image.new("RGB", (1600, 1240), (10, 200, 30)).save(stream, "PNG")
    measured: Any = Measured(result.model_dump(mode="json"))
    given: Any = Confirmed()
    document = pypdfium2.PdfDocument(report_pdf(measured, given, stream.getvalue()))
    try:
        assert len(document) == 1
        return document[0].get_textpage().get_text_range()
    finally:
        document.close()


def straight(text: str) -> str:
    return plain(text).translate(str.maketrans("“”‘’", "\"\"''"))


def test_the_result_keeps_to_its_schema(result: Result) -> None:
    text = Path(assess.__file__).with_name("result.schema.json").read_text("utf-8")
    jsonschema.validate(result.model_dump(mode="json"), json.loads(text))


def test_the_table_says_what_the_result_file_says(result: Result) -> None:
    said = plain(table(result, "marks.json"))
    for sentence in sentences(result.placements[0]):
        assert plain(sentence) in said, sentence


def test_the_sheet_says_what_the_result_file_says(result: Result) -> None:
    said = straight(printed(result)).replace(" ", "")  # a hyphen at a line's end is the PDF's own
    for sentence in sentences(result.placements[0]):
        assert straight(sentence).replace(" ", "") in said, sentence


def test_the_picture_says_the_headline_and_the_risk(result: Result) -> None:
    said = plain(" ".join(words for words, _, _ in _lines(result, "flat.jpg", 1600)))
    placement = result.placements[0]
    assert placement.risk is not None
    assert plain(placement.headline) in said
    assert plain(placement.risk.sentence) in said


def test_no_chance_is_told_without_what_it_hangs_on(result: Result) -> None:
    said = [*sentences(result.placements[0]), *(s.sentence for s in result.placements[0].settle)]
    told = [line for line in said if "%" in line]
    assert told
    for line in told:
        for sentence in re.split(r"(?<=[a-z\d%)])\. ", line):
            assert "%" not in sentence or IF_LIMITS_RIGHT in sentence, sentence
    for line in result.placements[0].exact:
        assert "robability: " not in line or IF_LIMITS_RIGHT in line


def test_the_headline_names_what_decides_and_the_first_step(result: Result) -> None:
    placement = result.placements[0]
    first = placement.reasons[0]
    if placement.verdict == "undecided":
        assert "relief of the rim" in placement.headline
        assert STEP_WORDS[placement.settle[0].step] in placement.headline
        assert placement.settle[0].criterion == first.criterion == "relief"
    else:
        assert placement.settle == ()
    if placement.verdict == "does_not_support":
        assert "relief of the rim is 1.0" in placement.headline


def test_where_photo_and_calipers_disagree_both_stand_side_by_side(result: Result) -> None:
    placement = result.placements[0]
    if placement.agreement is None:
        assert not placement.notes
        return
    assert placement.agreement.photo.value == pytest.approx(7.0, abs=0.2)
    assert placement.agreement.caliper.value == pytest.approx(5.0, abs=0.05)
    assert placement.agreement.alpha == 0.05
    assert not placement.agreement.agrees
    assert "by the photo" in placement.notes[0]
    assert "photo and calipers disagree" in placement.headline


def test_the_later_post_is_expected_in_words_everywhere(result: Result) -> None:
    later = result.placements[0].posts.downsized
    assert (getattr(later, "sentence", None) or getattr(later, "none", "")).startswith(EXPECTED)
    where = f"After downsizing: {EXPECTED}".strip()
    assert where in plain(table(result, "marks.json"))
    assert where.replace(" ", "") in straight(printed(result)).replace(" ", "")


def test_the_risks_and_the_verdict_are_of_one_piece(result: Result) -> None:
    placement = result.placements[0]
    assert placement.risk is not None
    assert placement.risk.wrong_no == placement.probability
    assert placement.risk.wrong_yes == pytest.approx(1.0 - placement.risk.wrong_no)
    if placement.verdict == "supports":
        assert placement.risk.wrong_yes <= 0.05
    if placement.verdict == "does_not_support":
        assert placement.risk.wrong_no <= 0.05


def test_the_budget_s_parts_of_u_make_up_its_u(result: Result) -> None:
    placement = result.placements[0]
    assert placement.first_order is not None
    squares = sum((row.u_mm or 0.0) ** 2 for row in placement.budget)
    assert squares == pytest.approx(placement.first_order.u**2)
    assert sum(row.share for row in placement.budget) == pytest.approx(1.0, abs=0.01)


def test_results_saved_before_these_fields_still_open(
    result: Result, make_placement: Callable[..., dict[str, Any]]
) -> None:
    """A placement without risk, steps, agreement or sentences, and criteria without a rule."""
    data = result.model_dump(mode="json")
    del data["criteria"]["rule"]
    data["placements"] = [make_placement()]
    said = table(Result.model_validate(data), "marks.json")
    assert "1.2 mm post, 10.32 mm (13/32 in) long; spare length 3.3 mm" in said
    assert f"chance of 90\u00a0%, {IF_LIMITS_RIGHT}" in plain(said).replace("90 %", "90\u00a0%")
