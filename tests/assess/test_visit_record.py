"""A visit's record: what comes first, what speaks against it, when to look again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any, get_args

import pytest

from assess.insertion import RecordError
from assess.talk.plan import DOWNSIZING, LATER_CHECK
from assess.talk.rewording import advises_taking_out
from assess.talk.spans import Days
from assess.visit_record import CHECK_AGAIN, NextCheck, VisitRecord, WornNow, next_check
from assess.visit_signs import FIRST, SIGNS, Done, Sign, against, asked_by
from assess.visit_words import DONE, visit_lines

PIERCED, WEEK_5 = date(2031, 3, 3), date(2031, 4, 7)
LONG, SHORT, LONGER = WornNow(1.2, 9.525), WornNow(1.2, 7.9375), WornNow(1.2, 11.1125)
CARE = [each.sign for each in SIGNS if each.asks == "care"]


def record(**changes: Any) -> VisitRecord:
    held: dict[str, Any] = {
        "revision": 1,
        "label": "1",
        "on": WEEK_5,
        "pierced_on": PIERCED,
        "done": "shorten",
        "done_by": "Kim Sample",
        "before": LONG,
        "after": SHORT,
        "next_check": NextCheck(LATER_CHECK, Days(date(2031, 5, 26), date(2031, 6, 9))),
    }
    return VisitRecord(**held | changes)


@pytest.mark.practice("common practice, no source")
def test_what_comes_first() -> None:
    assert asked_by(["swollen", "fever", "sinking"]) == ("care", "longer", "wait")
    assert asked_by([]) == ()
    assert "same day" in FIRST["longer"]
    assert "longer post" in FIRST["longer"]
    assert "medical care the same day" in FIRST["care"]
    assert "waits" in FIRST["wait"]


def test_no_word_of_a_visit_advises_to_take_jewellery_out() -> None:
    texts = [*FIRST.values(), *(each.text for each in SIGNS)]
    texts += [why for done in get_args(Done) for why in against(get_args(Sign), done)]
    assert not [text for text in texts if advises_taking_out(text, "en")]
    assert "client's choice" in DONE["remove"]


@pytest.mark.parametrize("sign", CARE)
def test_a_sign_that_needs_care_is_kept_with_that_it_was_said(sign: Sign) -> None:
    with pytest.raises(RecordError, match="licensed medical care"):
        record(signs=(sign,))
    kept = record(signs=(sign,), told_care=True)
    assert "sent to licensed medical care" in "\n".join(visit_lines(kept))


@pytest.mark.parametrize("sign", ["sinking", "no_spare"])
@pytest.mark.parametrize(("done", "after"), [("keep", LONG), ("shorten", SHORT)])
def test_an_end_without_room_asks_for_a_longer_post(sign: Sign, done: Done, after: WornNow) -> None:
    with pytest.raises(RecordError, match="a longer post the same day"):
        record(signs=(sign,), done=done, after=after)
    assert record(signs=(sign,), done=done, after=after, because="none is here").in_spite_of
    assert not record(signs=(sign,), done="lengthen", after=LONGER).in_spite_of


def test_a_shorter_post_waits_where_it_is_swollen() -> None:
    with pytest.raises(RecordError, match="a shorter post waits"):
        record(signs=("swollen",))
    assert not record(signs=("swollen",), done="keep", after=LONG).in_spite_of


def test_a_removal_beside_signs_of_infection_wants_a_reason() -> None:
    gone: dict[str, Any] = {"done": "remove", "after": None, "next_check": None}
    assert record(**gone).after is None
    with pytest.raises(RecordError, match="a clinician says whether it stays in"):
        record(**gone, signs=("pus",), told_care=True)
    assert record(**gone, signs=("pus",), told_care=True, because="a clinician said so")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"done_by": " "}, "who did it"),
        ({"after": None}, "which post is in now"),
        ({"after": LONGER}, "9.525 mm before, 11.1125 mm now"),
        ({"done": "lengthen"}, "9.525 mm before, 7.9375 mm now"),
        ({"done": "keep"}, "9.525 mm before, 7.9375 mm now"),
        ({"done": "remove"}, "no post is in"),
        ({"next_check": None}, "when to look again"),
        ({"on": date(2031, 3, 2)}, "before the day of the piercing"),
        ({"next_check": NextCheck(CHECK_AGAIN, Days(PIERCED, PIERCED))}, "before this visit"),
    ],
)
def test_a_record_that_lacks_something_says_what(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(RecordError, match=said):
        record(**changes)
    with pytest.raises(RecordError, match="gauge and length"):
        replace(LONG, length_mm=0.0)


def test_when_to_look_again() -> None:
    """By the plan's own ranges: 2-3, 4-6, 12-14 weeks after; 1-2 weeks where it is swollen."""

    def proposed(signs: tuple[Sign, ...], done: Done, on: date) -> tuple[str, date, date] | None:
        found = next_check(signs, done, PIERCED, on)
        return None if found is None else (found.name, found.days.first, found.days.last)

    week_2, week_20 = date(2031, 3, 17), date(2031, 7, 21)
    assert proposed((), "keep", week_2) == (DOWNSIZING, date(2031, 3, 31), date(2031, 4, 14))
    later = (LATER_CHECK, date(2031, 5, 26), date(2031, 6, 9))
    assert proposed((), "shorten", WEEK_5) == later
    assert proposed((), "shorten", week_2) == later  # a shorter post doesn't come twice
    again = (CHECK_AGAIN, date(2031, 4, 14), date(2031, 4, 21))
    assert proposed(("swollen",), "keep", WEEK_5) == again
    soon = (CHECK_AGAIN, date(2031, 4, 9), date(2031, 4, 14))
    assert proposed(("sinking",), "lengthen", WEEK_5) == soon
    assert proposed(("pus",), "keep", WEEK_5) == soon
    assert proposed((), "keep", week_20) == (CHECK_AGAIN, date(2031, 9, 15), date(2031, 10, 13))
    assert proposed((), "remove", WEEK_5) is None
