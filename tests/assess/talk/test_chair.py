"""The order in the chair: it follows the work, and blocks nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.talk.chair import CHAIR, still_open

NAMES = [step.id for step in CHAIR]


@pytest.mark.practice("common practice, no source: the order of the work in the chair")
def test_the_order_is_that_of_the_work() -> None:
    for earlier, later in [
        ("chair.hands", "chair.seat"),
        ("chair.before", "chair.pen"),
        ("chair.skin", "chair.pen"),
        ("chair.pen", "chair.mirror"),
        ("chair.mirror", "chair.agrees"),
        ("chair.agrees", "chair.photos"),
        ("chair.photos", "chair.feel"),
        ("chair.feel", "chair.prepare"),
        ("chair.prepare", "chair.gloves"),
    ]:
        assert NAMES.index(earlier) < NAMES.index(later)


@given(st.sets(st.sampled_from(NAMES)))
def test_steps_are_ticked_in_any_order_and_the_rest_stays(done: set[str]) -> None:
    left = [step.id for step in still_open(done)]
    assert set(left) == set(NAMES) - done
    assert left == sorted(left, key=NAMES.index)


def test_what_is_no_step_is_a_bug() -> None:
    with pytest.raises(ValueError, match="must hold steps of the chair"):
        still_open({"chair.coffee"})


def test_moved_dots_ask_for_a_new_revision() -> None:
    prepare = next(step for step in CHAIR if step.id == "chair.prepare")
    assert "new revision" in prepare.text
