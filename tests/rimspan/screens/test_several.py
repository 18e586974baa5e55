"""What each of several photos is asked for."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from assess.other_views import OtherDot
from rimspan.screens import several
from tests.assess.test_view_guide import reading


@pytest.mark.parametrize(
    ("rise_deg", "first", "hidden"),
    [(0.0, "outer_rim", ""), (22.0, "entry", "exit"), (-35.0, "exit", "entry")],
)
def test_a_photo_is_asked_for_what_it_can_show(rise_deg: float, first: str, hidden: str) -> None:
    asked = several.offers(reading("a.jpg", rise_deg, 0.0), "left")
    assert asked[0] == first
    assert hidden not in asked
    assert {"crest", "floor", "tie"} <= set(asked)
    assert ("outer_rim" in asked) == (rise_deg == 0.0)


def test_from_far_aside_everything_is_asked_for() -> None:
    assert several.offers(reading("a.jpg", 0.0, 75.0), "left") == several.SQUARE


def test_from_behind_an_entry_is_asked_for_and_from_the_face_side_an_exit() -> None:
    for side, behind in (("left", 45.0), ("right", -45.0)):
        assert several.offers(reading("a.jpg", 10.0, behind), side)[0] == "entry"
        assert several.offers(reading("a.jpg", -15.0, -behind), side)[0] == "exit"


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("A/entry", {"kind": "entry", "label": "A"}),
        ("left / front/exit", {"kind": "exit", "label": "left / front"}),
        ("tie: 2", {"kind": "tie", "name": "2"}),
    ],
)
def test_a_dot_is_told_to_the_marking_by_its_name(name: str, told: dict[str, Any]) -> None:
    line = np.array([[1.0, 2.004], [3.0, 4.0]])
    said = several._told(OtherDot(name, line, 1, ("a.jpg",)))
    assert said == {**told, "line": [[1.0, 2.0], [3.0, 4.0]], "first": 1, "files": ["a.jpg"]}
