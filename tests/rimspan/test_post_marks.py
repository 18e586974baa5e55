"""Marks of a photo with the post in: to a marks file, and back to what the marking takes."""

from __future__ import annotations

from typing import Any

from assess.read_marks import parse_marks
from assess.recheck_marks import PostMarks, parse_posts
from rimspan.post_marks import as_marked, as_marks, lacking

OUTER = [[0.0, 0.0], [10.0, 5.0], [20.0, 0.0]]
UPPER, LOWER = [12.0, 3.0], [13.0, 30.0]


def document(**placement: Any) -> dict[str, Any]:
    photo = {
        "file": "a.jpg",
        "x_sha256": "0" * 64,
        "outer_rim": OUTER,
        "inner_rim": [[1.0, 1.0]],
        "placements": [{"label": "A", "entry": [12.0, 9.0], **placement}],
    }
    return {"side": "left", "card": None, "photos": [photo]}


SNAPPED: dict[str, Any] = {
    "entry_end": UPPER,
    "exit_end": LOWER,
    "snapped": ["entry_end", "exit_end"],
    "u_px": 0.4,
    "x_snap": {
        "entry_end": {"tap": [11.0, 3.0], "u_px": 0.3},
        "exit_end": {"tap": [13.0, 31.0], "u_px": 0.4},
    },
}


def test_both_ends_that_snapped_say_how_well_they_are_known() -> None:
    marks = as_marks(document(**SNAPPED), "A", 9.525, {})
    assert parse_marks(marks).photos[0].inner_rim is None
    posts = parse_posts(marks)
    assert posts.of("A").length_mm == 9.525
    assert posts.photos["a.jpg"]["A"] == PostMarks((12.0, 3.0), (13.0, 30.0), None, 0.4)
    assert as_marks(as_marked(marks, {"a.jpg": "0" * 64}), "A", 9.525, {}) == marks


def test_a_point_set_by_hand_leaves_the_uncertainty_to_the_hand() -> None:
    held = SNAPPED | {"x_snap": {"entry_end": {"tap": UPPER, "u_px": 0.3}}}
    assert parse_posts(as_marks(document(**held), "A", None, {})).photos["a.jpg"]["A"].u_px is None


def test_an_axis_stands_for_hidden_ends() -> None:
    held = document(axis_from=LOWER, axis_to=UPPER)
    marks = as_marks(held, "A", None, {})
    parse_marks(marks)
    axis = parse_posts(marks).photos["a.jpg"]["A"].axis
    assert axis == ((13.0, 30.0), (12.0, 3.0))
    assert lacking(held, "A") == ()
    back = as_marked(marks, {"a.jpg": "0" * 64})["photos"][0]["placements"][0]
    assert (back["axis_from"], back["axis_to"]) == (LOWER, UPPER)


def test_what_a_comparison_lacks_is_named() -> None:
    bare = {"side": "left", "card": None, "photos": [{"file": "a.jpg", "x_sha256": "0" * 64}]}
    assert lacking(bare, "A") == ("the outer rim", "both ends of the post")
    assert lacking(document(entry_end=UPPER), "A") == ("both ends of the post",)
    assert lacking(document(**SNAPPED), "B") == ("both ends of the post",)
