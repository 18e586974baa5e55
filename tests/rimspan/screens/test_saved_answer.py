"""The Answer page of a draft that is saved: true words, and no picture that says otherwise."""

from __future__ import annotations

from typing import Any

import pytest

from rimspan.drawing import Canvas
from rimspan.studio_limits import set_criteria
from tests.rimspan.screens.test_pages import sign

UNCONFIRMED = "not confirmed"


@pytest.fixture
def across(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the words that were drawn across pictures so far."""
    drawn: list[str] = []
    whole = Canvas.across

    def noted(self: Canvas, words: str, *rest: Any) -> None:
        drawn.append(words)
        whole(self, words, *rest)

    monkeypatch.setattr(Canvas, "across", noted)
    return drawn


def test_a_saved_answer_says_by_whom_and_when(measured: Any, across: list[str]) -> None:
    measured.open("answer")
    assert "Not saved so far: nobody confirmed it." in measured.words
    assert across == [UNCONFIRMED]
    sign(measured)
    across.clear()
    measured.open("answer")
    (saved,) = measured.file.revisions(measured.client)
    on = saved.created_at.astimezone()
    day = f"{on.day} {on:%B %Y}"
    assert f"Saved as revision 1, confirmed by Alex Invented on {day}." in measured.words
    assert "isn't confirmed" not in measured.words
    assert across == []


def test_a_change_after_saving_is_not_confirmed(measured: Any, across: list[str]) -> None:
    sign(measured)
    measured.open("marks")
    measured.at.number_input(key="relief_mm only").set_value(4.5)
    measured.run().open("answer")
    assert "Not saved so far: nobody confirmed it." in measured.words
    assert across == [UNCONFIRMED]


def test_other_limits_than_those_of_the_saved_one_are_not_confirmed(
    measured: Any, across: list[str]
) -> None:
    sign(measured)
    (person,) = measured.file.people.all()
    set_criteria(measured.file, person, {"channel": (7.5, 10.0)}, "invented", "token")
    measured.open("answer")
    assert "Saved as revision 1" in measured.words
    assert "what stands here is measured anew, and isn't confirmed" in measured.words
    assert across == [UNCONFIRMED]


def test_a_void_assessment_confirms_nothing(measured: Any, across: list[str]) -> None:
    sign(measured)
    (saved,) = measured.file.revisions(measured.client)
    measured.file.void_revision(saved.id, "Alex Invented", "invented slip")
    measured.open("answer")
    assert "Revision 1 is void: what stands here isn't confirmed." in measured.words
    assert across == [UNCONFIRMED]
