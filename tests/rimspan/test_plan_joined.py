"""The plan measured by itself and joined is the plan measured with all the rest."""

import json
from pathlib import Path
from typing import Any

import pytest

from assess.criteria import DEFAULT_CRITERIA
from assess.measure import read_photos
from assess.plan_measure import measure_plan
from assess.read_marks import parse_marks
from assess.reading import read_view
from calibration.draws import Draws
from calibration.photo import read_photo
from rimspan.assessment import assess_marks, with_plan
from rimspan.plan_lines import plan_lines
from rimspan.screens.document import measurable, new_document
from rimspan.screens.plan_draft import approval, new_plan, plan_of, without_plan
from rimspan.screens.plan_draft import with_plan as draft_with_plan
from rimspan.screens.stations import plan_word

SAMPLE = Path(__file__).resolve().parents[2] / "rimspan" / "demo" / "samples" / "three"


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return dict(json.loads((SAMPLE / "marks-plan.json").read_text("utf-8")))


def test_joined_is_as_measured_in_one(document: dict[str, Any]) -> None:
    marks = measurable(document)
    (name,) = (photo["file"] for photo in marks["photos"])
    data = {name: (SAMPLE / name).read_bytes()}
    whole = assess_marks(marks, data, draws=3000)
    bare = assess_marks(without_plan(marks), data, draws=3000)
    assert bare.result["plan"] is None

    parsed, photo = parse_marks(marks), read_photo(data[name])
    known = read_view(photo, file=name, card=parsed.card, side="right")
    readings = read_photos(parsed, {name: photo}, None, {name: known})
    plan = measure_plan(parsed, readings, DEFAULT_CRITERIA, Draws(1, 3000))
    assert with_plan(bare, marks, plan) == whole
    assert with_plan(bare, marks, plan).digest == whole.digest != bare.digest

    lines = plan_lines(plan.out) if plan else []
    assert lines[0].startswith("Three posts asked for; two posts planned")
    assert lines[-1] == "The client hasn't approved the drawing yet."


def test_a_plan_whose_rim_is_gone_is_said_to_be_missing(document: dict[str, Any]) -> None:
    marks = measurable(document)
    bare = assess_marks(
        without_plan(marks), {"square-on.jpg": (SAMPLE / "square-on.jpg").read_bytes()}, draws=500
    )
    told = with_plan(bare, marks, None).result
    assert told["plan"] is None
    assert "needs both contours" in told["plan_missing"]


def test_an_approval_is_wiped_by_a_move_and_by_other_jewellery(document: dict[str, Any]) -> None:
    draft = new_document("right") | document
    plan = plan_of(draft)
    assert plan is not None
    yes = approval("approved", "2026-01-02T10:00", "Alex Invented")
    approved = draft_with_plan(draft, plan.model_copy(update={"approval": yes}))
    kept = plan_of(approved)
    assert kept is not None
    assert kept.approval == yes
    assert plan_word(kept) == "2 planned, approved"
    # What isn't drawn may change; it is another assessment all the same.
    wished = draft_with_plan(approved, kept.model_copy(update={"wanted": 2}))
    assert (plan_of(wished) or plan).approval == yes
    assert wished["x_token"] != approved["x_token"]
    for changes in (
        {"placements": kept.placements[:1]},
        {"jewellery": kept.jewellery.model_copy(update={"post_mm": 1.6})},
    ):
        moved = plan_of(draft_with_plan(approved, kept.model_copy(update=changes)))
        assert moved is not None
        assert moved.approval is None
    anew = approval("anew", "2026-01-02T10:00", "Alex Invented")
    assert plan_word(kept.model_copy(update={"approval": anew})) == "2 planned, to mark anew"


def test_the_word_of_the_station() -> None:
    assert plan_word(None) == "optional"
    assert plan_word(new_plan("a.jpg")) == "optional"
