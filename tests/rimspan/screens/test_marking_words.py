"""What stands below the photo that is marked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from assess.errors import Fault, MarksError, NothingMarkedError
from assess.result import Result
from rimspan.screens.marking_words import live_words, missing_words

LINE = [[0, 0], [9, 0]]
RIMS = {"outer_rim": LINE, "inner_rim": [[0, 5], [9, 5]]}
ENDS = {"label": "1", "entry": [4, 0], "exit": [4, 5]}


def test_missing_marks_are_listed() -> None:
    assert missing_words(RIMS) == "Not marked in this photo: entry, exit, structure below."
    assert missing_words(RIMS | {"placements": [ENDS | {"below": [4, 9]}]}) == "Nothing is missing."


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
