"""Bad marks are refused, one clear line for each fault."""

import copy
import json
from typing import Any

import pytest

from assess.errors import MarksError
from assess.marks import CardMarks
from assess.read_marks import parse_marks

GOOD: dict[str, Any] = {
    "format": "rimspan-marks/1",
    "side": "left",
    "card": {"id": "rimspan-frame-1", "check_bar_mm": [100.1, 99.9]},
    "photos": [
        {
            "file": "a.jpg",
            "outer_rim": [[10, 100], [100, 20], [200, 100]],
            "inner_rim": [[40, 100], [100, 50], [170, 100]],
            "placements": [
                {"label": "A", "entry": [100, 20], "exit": [100, 50], "below": [100, 90]}
            ],
        }
    ],
    "caliper": {"A": {"relief_mm": 5, "u_relief_mm": 0.3}},
    "examined": {"A": {"tissue": "firm"}},
}


def changed(path: list[str | int], value: Any) -> dict[str, Any]:
    document = copy.deepcopy(GOOD)
    at: Any = document
    for part in path[:-1]:
        at = at[part]
    at[path[-1]] = value
    return document


def faults(document: Any) -> list[str]:
    with pytest.raises(MarksError) as caught:
        parse_marks(document, "m.json")
    assert caught.value.exit_status == 2
    lines = [str(fault) for fault in caught.value.faults]
    assert all("\n" not in line and line.startswith("m.json") for line in lines)
    return lines


def test_good_marks_are_read_with_their_defaults() -> None:
    marks = parse_marks(json.dumps(GOOD).encode())
    assert marks.labels() == ("A",)
    assert marks.rim_plane.u_offset_mm == 5
    assert marks.rim_plane.u_tilt_deg == 5.8
    assert marks.card is not None
    assert marks.card.u_check_bar_mm == 0.05


def test_private_names_are_passed_over_but_ties_may_be_called_anything() -> None:
    document = changed(["x_note"], {"anything": None})
    document["photos"][0]["x_zoom"] = 3
    document["photos"][0]["ties"] = {"x_1": [5, 5]}
    assert parse_marks(document).photos[0].ties == {"x_1": (5.0, 5.0)}


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        (["photos", 0, "placements", 0, "entri"], [1, 2], "did you mean 'entry'?"),
        (["foto"], 1, "did you mean 'photos'?"),
        (["caliper", "A", "chanel_mm"], 1, "did you mean 'channel_mm'?"),
        (["rim_plane"], {"ofset_mm": 1}, "did you mean 'offset_mm'?"),
        (["side"], "middle", "side"),
        (["format"], "rimspan-marks/2", "format"),
        (["card", "id"], "rimspan-frame-9", "rimspan-frame-1"),
        (["photos"], [], "photos"),
        (["posts"], [], "posts"),
        (["posts"], [{"gauge_mm": 1.2, "lengths_mm": []}], "posts[0].lengths_mm"),
        (["photos", 0, "placements", 0, "exit"], [100, 20], "same place as entry"),
        (["photos", 0, "placements", 0, "entry"], [100, None], "entry"),
        (["photos", 0, "placements", 0, "entry"], None, "must not be null"),
        (["photos", 0, "placements", 0, "snapped"], ["entry"], "u_px"),
        (["photos", 0, "placements", 0, "outline"], ["crest"], "isn't marked"),
        (["photos", 0, "inner_rim"], [[10, 20], [200, 120]], "crosses outer_rim"),
        (["photos", 0, "outer_rim"], [[0, 0], [9, 9], [9, 0], [0, 9]], "crosses itself"),
        (["caliper", "A"], {"channel_mm": 6}, "u_channel_mm: is missing"),
        (["caliper", "A"], {"channel_mm": -6, "u_channel_mm": 0.1}, "greater than 0"),
        (["examined", "A", "tissue"], "hard", "tissue"),
        (["photos", 0, "file"], 7, "photos[0].file"),
        (["photos", 0, "scale"], {"kind": "ruler", "points": [[0, 0], [1, 1]]}, "length_mm"),
    ],
)
def test_each_fault_is_named_with_its_field(path: list[str | int], value: Any, says: str) -> None:
    assert any(says in line for line in faults(changed(path, value)))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('{"format": "rimspan-marks/1", "side": NaN}', "NaN"),
        ('{"format": ', "is not JSON"),
        ("[1, 2]", "must be a JSON object"),
        (b"\xff\xfe\x00", "is not UTF-8"),
        (json.dumps(changed(["photos", 0, "sigma_px"], 1)).replace(": 1}", ": 1e999}"), "finite"),
        ("[" * 100_000, ""),
    ],
)
def test_text_that_is_no_marks_file(text: str | bytes, says: str) -> None:
    assert any(says in line for line in faults(text))


def test_every_fault_is_told_at_once() -> None:
    document = changed(["side"], "middle")
    document["foto"] = 1
    assert len(faults(document)) == 2


def test_two_photos_or_placements_of_one_name_are_refused() -> None:
    document = copy.deepcopy(GOOD)
    document["photos"].append(document["photos"][0])
    document["photos"][0]["placements"] *= 2
    lines = faults(document)
    assert any("is listed twice" in line for line in lines)
    assert any("is used twice" in line for line in lines)


def test_a_part_of_the_marks_is_read_from_json_alone() -> None:
    assert CardMarks.model_validate_json(
        '{"id": "a", "check_bar_mm": [100.5, 99]}'
    ).check_bar_mm == (
        100.5,
        99.0,
    )
