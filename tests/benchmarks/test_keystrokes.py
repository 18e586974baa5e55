"""The keystroke-level count adds up, and its document says what it computes."""

from __future__ import annotations

from pathlib import Path

import pytest

from assess.talk.questions import QUESTIONS
from benchmarks.keystrokes import (
    AIM_S,
    OPERATORS_S,
    REST_S,
    TALK_AIM_S,
    by_hand,
    contour,
    helped,
    seconds,
    short,
    steps,
    summary,
    tables,
    talk_steps,
    total,
    variants,
)
from rimspan.screens.marking import script

DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "keystrokes.md"


@pytest.mark.memory(source="Card, Moran, Newell 1980, CACM 23(7), 396-410")
def test_the_operators_take_what_the_source_gives_them() -> None:
    # T is K for an average non-secretary typist.
    assert OPERATORS_S == {"M": 1.35, "P": 1.10, "H": 0.40, "K": 0.20, "T": 0.28}


@pytest.mark.parametrize("block", tables(), ids=lambda block: block.splitlines()[0])
def test_the_document_holds_what_is_computed(block: str) -> None:
    assert f"\n{block}\n" in DOCUMENT.read_text("utf-8")


def test_a_row_of_operators_adds_up() -> None:
    assert seconds("HMPK") == pytest.approx(0.40 + 1.35 + 1.10 + 0.20)
    assert seconds("") == 0


@pytest.mark.parametrize(
    ("operators", "words"),
    [("MPKPKPK", "M 3(P K)"), ("PKPK", "2(P K)"), ("PKP", "P K P"), ("MPKTT", "M P K T T")],
)
def test_a_row_of_taps_is_drawn_together(operators: str, words: str) -> None:
    assert short(operators) == words


def test_a_contours_tap_costs_a_point_and_a_press_by_hand_alone() -> None:
    fewer, more = [contour("Outer rim", 5)], [contour("Outer rim", 7)]
    assert total(more, by_hand) - total(fewer, by_hand) == pytest.approx(2 * 1.30)
    assert total(more, helped) == pytest.approx(total(fewer, helped))
    assert total(fewer, helped) == pytest.approx(1.35 + 3 * 1.30)


def test_the_shares_and_the_steps_have_one_sum() -> None:
    for way in (by_hand, helped):
        spent = sum(
            way(step).count(name) * each_s
            for step in steps()
            for name, each_s in OPERATORS_S.items()
        )
        assert spent == pytest.approx(total(steps(), way))


def test_every_variant_takes_away_or_changes_what_its_name_says() -> None:
    counted = variants()
    usual = counted.pop("as above")
    for name, other in counted.items():
        sums, usually = ([total(s, way) for way in (by_hand, helped)] for s in (other, usual))
        assert sums != pytest.approx(usually), name
    left_out = {s.does for s in usual} - {s.does for s in counted["the photo is there already"]}
    assert left_out == {
        "Tap “Upload”",
        "Find the photo in the system's dialog, tap it",
        "Confirm it there",
    }


def test_the_rest_before_the_inner_rim_lies_within_the_thought_before_it() -> None:
    """The program's own rest is no time of the hand's: thinking and pointing take longer."""
    assert f"const REST_MS = {REST_S * 1000:.0f};" in script()
    (inner,) = (step for step in steps() if step.does.startswith("Inner rim"))
    assert helped(inner).startswith("MP")
    assert seconds("MP") - REST_S == pytest.approx(0.95)
    assert "0.95 s for the proposal" in DOCUMENT.read_text("utf-8").replace("\n", " ")


def test_the_page_says_whether_the_aim_is_reached() -> None:
    over = [total(steps(), way) > AIM_S for way in (by_hand, helped)]
    assert [" s over the aim" in line for line in summary().splitlines()] == over
    reached = "the aim of a minute is reached with help, and not by hand"
    assert (reached in DOCUMENT.read_text("utf-8")) == (over == [True, False])


def test_the_talk_counts_every_question_and_stays_under_two_minutes() -> None:
    quiet, telling = (talk_steps(told) for told in (False, True))
    assert len(quiet) == 2 + len(QUESTIONS)  # the way there, age and consent, then one for each
    beside = {q.id: sum(not answer.alone for answer in q.answers) for q in QUESTIONS if q.several}
    ends = [step.does.split(": all ")[1] for step in telling if ": all " in step.does]
    counted = sorted(int(end.split(",")[0]) for end in ends)
    assert counted == sorted(beside.values())
    assert total(quiet, helped) < total(telling, helped) < TALK_AIM_S
