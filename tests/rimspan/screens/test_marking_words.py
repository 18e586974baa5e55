"""What stands below the photo that is marked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from assess.errors import Fault, MarksError, NothingMarkedError
from assess.result import Result
from rimspan.screens.marking_words import live_words, needs_words

LINE = [[0, 0], [9, 0]]
RIMS = {"outer_rim": LINE, "inner_rim": [[0, 5], [9, 5]]}
ENDS = {"label": "1", "entry": [4, 0], "exit": [4, 5]}


def draft(*photos: dict[str, Any], **read: dict[str, Any]) -> dict[str, Any]:
    named = [{"file": f"{i}.jpg", **photo} for i, photo in enumerate(photos)]
    return {"photos": named, "caliper": read, "examined": {}}


def test_each_result_says_what_it_still_needs() -> None:
    assert needs_words(draft({})) == (
        "Still needed. Band width: outer rim, inner rim. Channel: entry, exit. "
        "Room below: the next structure below. Relief: the depth rod's reading."
    )
    half = {"outer_rim": LINE, "placements": [{"label": "1", "entry": [4, 0]}]}
    assert needs_words(draft(half)) == (
        "Still needed. Band width: inner rim. Channel: exit. "
        "Room below: the next structure below. Relief: the depth rod's reading."
    )


def test_dots_in_two_photos_each_are_enough() -> None:
    above = {"placements": [{"label": "1", "entry": [4, 0], "crest": [4, 2], "floor": [4, 6]}]}
    below = {"placements": [{"label": "1", "exit": [4, 5], "crest": [4, 2], "floor": [4, 6]}]}
    room = "Room below: the next structure below."
    band = "Still needed. Band width: outer rim, inner rim."
    assert needs_words(draft(above, above, below, below)) == f"{band} {room}"
    assert needs_words(draft(above, above, below)) == f"{band} Channel: exit. {room}"
    edge = {"placements": [{"label": "1", "exit": [4, 5], "outline": ["exit"]}]}
    assert "Channel: exit." in needs_words(draft(above, above, below, edge))


def test_nothing_is_missing_once_all_is_there() -> None:
    whole = RIMS | {"placements": [ENDS | {"below": [4, 9]}]}
    assert needs_words(draft(whole)) == "Still needed. Relief: the depth rod's reading."
    read = {"relief_mm": 5.0, "u_relief_mm": 0.3}
    assert needs_words(draft(whole, **{"1": read})) == "Nothing is missing."


def test_what_belongs_together_must_be_in_one_photo() -> None:
    one = {"outer_rim": LINE, "placements": [{"label": "1", "entry": [4, 0], "below": [4, 9]}]}
    other = {"inner_rim": LINE, "placements": [{"label": "1", "exit": [4, 5]}]}
    assert needs_words(draft(one, other)) == (
        "Still needed. Band width: inner rim. Channel: exit. Relief: the depth rod's reading."
    )
    assert "Band" not in needs_words(draft(one, RIMS))


def test_a_line_of_one_point_is_no_line_yet() -> None:
    assert "Band width: outer rim." in needs_words(draft(RIMS | {"outer_rim": [[0, 0]]}))


def test_several_placements_are_told_apart_and_calipers_count() -> None:
    both = RIMS | {"placements": [ENDS | {"below": [4, 9]}, {"label": "2", "entry": [8, 0]}]}
    read = {"channel_mm": 6.0, "u_channel_mm": 0.2, "relief_mm": 5.0, "u_relief_mm": 0.3}
    assert needs_words(draft(both, **{"1": read})) == (
        "Still needed. Channel of 2: exit. Room below of 2: the next structure below. "
        "Relief of 2: the depth rod's reading."
    )
    assert "Channel" not in needs_words(draft(both, **{"1": read, "2": read}))


def test_the_live_line_says_the_channel_with_its_between(
    make_result: Callable[..., Result], make_placement: Callable[..., dict[str, Any]]
) -> None:
    channel = {"value": 5.41, "u": 0.35, "low": 4.72, "high": 6.08, "unit": "mm"}
    one = make_placement("a", channel=channel)
    assert live_words(make_result(one)) == ["channel 5.4 mm, between 4.7 and 6.1"]
    both = live_words(make_result(one, make_placement("b", channel=None, missing=[])))
    assert both == [
        "a: channel 5.4 mm, between 4.7 and 6.1",
        "b: no channel yet: entry and exit are needed.",
    ]


def test_what_cannot_be_measured_yet_is_no_error() -> None:
    nothing = NothingMarkedError([Fault("marks", "nothing is marked", "mark it")])
    assert live_words(nothing) == ["No millimetres yet: entry and exit are needed."]
    crossing = MarksError([Fault("x", "crosses outer_rim", "move the points")])
    assert live_words(crossing) == ["No millimetres yet: crosses outer_rim; move the points."]
