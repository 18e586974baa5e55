"""The draft: nothing is lost, stubs never reach the measurement, a change is a new assessment."""

from __future__ import annotations

import json
from importlib import resources

import jsonschema
import pytest

from rimspan.screens.document import (
    changed,
    entry,
    files,
    hashes,
    labels,
    marks_of,
    measurable,
    missing_marks,
    new_document,
    with_marks,
    with_photo,
    without_photo,
)


def two_photos() -> dict:
    return with_photo(with_photo(new_document("left"), "ear.jpg", "aa"), "ear.jpg", "bb")


def test_two_photos_of_one_name_get_two_names() -> None:
    assert files(two_photos()) == ["ear.jpg", "ear (2).jpg"]
    assert hashes(two_photos()) == {"ear.jpg": "aa", "ear (2).jpg": "bb"}


def test_the_same_bytes_twice_are_one_photo() -> None:
    document = two_photos()
    assert with_photo(document, "copy.jpg", "aa") == document


def test_marks_go_to_their_photo_and_come_back() -> None:
    marks = {"outer_rim": [[1, 2], [3, 4]], "placements": [{"label": "1", "entry": [5, 6]}]}
    document = with_marks(two_photos(), "ear (2).jpg", marks)
    assert marks_of(entry(document, "ear (2).jpg")) == marks
    assert marks_of(entry(document, "ear.jpg")) == {}


def test_marks_taken_away_are_gone() -> None:
    document = with_marks(two_photos(), "ear.jpg", {"head_up": [[1, 1], [1, 0]]})
    document = with_marks(document, "ear.jpg", {"head_up": [], "placements": []})
    assert entry(document, "ear.jpg") == {"file": "ear.jpg", "x_sha256": "aa"}


def test_how_marks_came_about_is_kept_but_not_measured() -> None:
    snap = {"tap": [5.5, 6.5], "u_px": 0.1}
    placement = {"label": "1", "entry": [5, 6], "snapped": ["entry"], "u_px": 0.1}
    marks = {
        "ties": {"1": [8, 9]},
        "u_ties_px": 0.2,
        "placements": [placement | {"x_snap": {"entry": snap}}],
        "x_help": {"outer_rim": "traced"},
        "x_ties_snap": {"1": {"tap": [8, 8], "u_px": 0.2}},
    }
    document = with_marks(two_photos(), "ear.jpg", marks)
    assert marks_of(entry(document, "ear.jpg")) == marks
    (photo,) = measurable(document, ["ear.jpg"])["photos"]
    assert photo == {
        "file": "ear.jpg",
        "ties": {"1": [8, 9]},
        "u_ties_px": 0.2,
        "placements": [placement],
    }
    assert marks_of(entry(with_marks(document, "ear.jpg", {}), "ear.jpg")) == {}


def test_a_photo_taken_out_takes_its_marks_along() -> None:
    document = with_marks(two_photos(), "ear.jpg", {"ties": {"t": [1, 1]}})
    assert files(without_photo(document, "ear.jpg")) == ["ear (2).jpg"]


def test_an_unknown_photo_is_a_key_error() -> None:
    with pytest.raises(KeyError, match=r"other\.jpg"):
        entry(two_photos(), "other.jpg")


def test_every_change_is_another_assessment_and_no_change_is_the_same() -> None:
    document = new_document("right") | {"x_saved": 3}
    same = changed(document, side="right")
    other = changed(document, examined={"1": {"tissue": "firm"}})
    assert same["x_token"] == document["x_token"]
    assert same["x_saved"] == 3
    assert other["x_token"] != document["x_token"]
    assert "x_saved" not in other


def test_changes_leave_the_old_draft_alone() -> None:
    document = two_photos()
    before = json.dumps(document)
    measurable(with_marks(document, "ear.jpg", {"outer_rim": [[1, 1]]}))
    without_photo(document, "ear.jpg")
    assert json.dumps(document) == before


def test_what_is_measured_keeps_the_published_format() -> None:
    """The schema of rimspan-marks/1 is the outside check: a draft's stubs break it."""
    schema = json.loads(resources.files("assess").joinpath("marks.schema.json").read_text("utf-8"))
    stubs = {
        "outer_rim": [[1, 1]],
        "head_up": [[1, 1]],
        "inner_rim": [[1, 1], [2, 2]],
        "placements": [{"label": "1"}, {"label": "2", "exit": [3, 3]}],
    }
    document = with_marks(two_photos(), "ear.jpg", stubs)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, schema)
    marks = measurable(document)
    jsonschema.validate(marks, schema)
    assert marks["photos"][0] == {
        "file": "ear.jpg",
        "inner_rim": [[1, 1], [2, 2]],
        "placements": [{"label": "2", "exit": [3, 3]}],
    }
    assert files(measurable(document, ["ear (2).jpg"])) == ["ear (2).jpg"]


def test_missing_marks_are_named_in_the_order_of_marking() -> None:
    document = two_photos()
    assert missing_marks(document) == [
        "outer rim",
        "inner rim",
        "entry",
        "exit",
        "structure below",
    ]
    document = with_marks(document, "ear.jpg", {"placements": [{"label": "1", "exit": [1, 1]}]})
    document = with_marks(document, "ear (2).jpg", {"outer_rim": [[1, 1], [2, 2]]})
    assert missing_marks(document) == ["inner rim", "entry", "structure below"]


def test_labels_come_from_marks_and_readings() -> None:
    assert labels(new_document("left")) == ["1"]
    document = with_marks(two_photos(), "ear.jpg", {"placements": [{"label": "b"}]})
    document = changed(document, caliper={"a": {"channel_mm": 7.0, "u_channel_mm": 0.3}})
    assert labels(document) == ["b", "a"]
