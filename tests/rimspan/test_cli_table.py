"""The table for people: units, the interval, the uncertainty and who decides."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from assess.result import Result
from rimspan.commands.table import WIDTH, table

Make = Callable[..., Result]
MakePlacement = Callable[..., dict[str, Any]]


def test_a_row_tells_the_channel_with_its_interval_and_uncertainty(make_result: Make) -> None:
    said = table(make_result(), "marks.json")
    row = next(line for line in said.splitlines() if line.startswith("one "))
    assert "7.0 mm, between 6.2 and 7.9" in row
    assert "0.4 mm" in row
    assert "12 deg, between 6 and 18" in row
    assert "one view" in row


def test_posts_are_told_in_mm_and_inches_with_their_spare_length(make_result: Make) -> None:
    said = table(make_result(), "marks.json")
    assert "1.2 mm post, 10.32 mm (13/32 in) long; spare length 3.3 mm" in said
    assert "After downsizing: Expected, and measured again at that visit: No length" in said


def test_the_statement_and_nobody_stand_at_the_foot(make_result: Make) -> None:
    lines = table(make_result(), "marks.json").splitlines()
    assert "The piercer who examines the ear decides." in lines[-2]
    assert lines[-1].startswith("Not confirmed:")


def test_the_piercer_is_named_once_confirmed(make_result: Make) -> None:
    said = table(make_result(confirmed_by="A. Piercer"), "marks.json")
    assert "Confirmed by A. Piercer" in said
    assert "Not confirmed" not in said


def test_what_was_not_measured_is_a_dash_and_a_reason(
    make_result: Make, make_placement: MakePlacement
) -> None:
    bare = make_placement(channel=None, angle=None, method=None, headline="Can't tell yet.")
    said = table(make_result(bare), "marks.json")
    assert "not measured" in said
    assert "Can't tell yet." in said
    assert "At first" not in said


def test_photos_tell_tilt_distance_and_warnings(make_result: Make) -> None:
    said = table(make_result(), "marks.json")
    assert "photo square-on.jpg: tilt 4.2 deg, 281 mm away" in said
    assert "The photo is mirrored." in said


def test_long_sentences_are_wrapped(make_result: Make, make_placement: MakePlacement) -> None:
    said = table(make_result(make_placement(headline="word " * 60)), "marks.json")
    assert max(map(len, said.splitlines())) <= WIDTH
