"""The talk's record is read with care: what it doesn't hold was neither asked nor seen."""

from __future__ import annotations

import json
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.talk.consent import AgeRules, age_years, born_by, unmet
from assess.talk.outcome import Outcome
from assess.talk.plan import CHECK, DAY, DOWNSIZING, Trip
from assess.talk.questions import QUESTIONS
from assess.talk.record import (
    Agreed,
    talk_from,
    with_age,
    with_answer,
    with_step,
    with_time,
    with_trips,
    with_written,
)
from assess.talk.spans import Days

LAKE = Trip("Lake (invented)", Days(date(2026, 7, 1), date(2026, 7, 20)))


def test_an_empty_record_has_nothing_met_and_nothing_asked() -> None:
    talk = talk_from({})
    assert [s.id for s in unmet(talk.facts, AgeRules())] == [
        "consent.no_age",
        "consent.no_identity",
    ]
    assert len(talk.together.unasked) == len(QUESTIONS)


@pytest.mark.parametrize("seen", ["true", 1, None, "yes"])
def test_only_a_plain_yes_counts_as_seen(seen: object) -> None:
    assert not talk_from({"age": {"identity_checked": seen}}).facts.identity_checked


def test_a_record_comes_back_as_it_was_kept_through_json() -> None:
    record = with_answer({}, "ask.trip", ["swim"])
    record = with_trips(record, [LAKE])
    record = with_answer(record, "ask.scan", ["planned"], date(2026, 9, 1))
    record = with_step(with_age(record, at_least_years=18), "chair.hands", True)
    talk = talk_from(json.loads(json.dumps(record)))
    assert talk.trips == (LAKE,)
    assert talk.chair == ("chair.hands",)
    assert talk.facts.age_years == 18
    assert talk.given["ask.trip"].until == date(2026, 7, 21)  # the day after the last
    assert talk.together.outcome is Outcome.WAIT
    assert talk.together.until == date(2026, 9, 1)
    assert with_step(record, "chair.hands", False)["chair"] == []
    assert "ask.trip" not in with_answer(record, "ask.trip", [])["answers"]


@pytest.mark.parametrize(
    ("question", "answers"),
    [
        ("ask.trip", ["gone since"]),
        ("ask.trip", ["none", "swim"]),
        ("ask.health", ["none", "heart"]),
        ("ask.health", ["heart", "gone since"]),
    ],
)
def test_answers_that_are_not_known_or_cannot_stand_together_were_not_given(
    question: str, answers: list[str]
) -> None:
    talk = talk_from(with_answer({}, question, answers))
    assert question in talk.together.unasked


@given(st.dates(date(1900, 1, 1), date(2100, 12, 31)), st.integers(1, 99))
def test_the_last_date_of_birth_is_the_last(day: date, years: int) -> None:
    """Held against the count of years, day by day."""
    born = born_by(day, years)
    assert age_years(born, day) >= years
    assert age_years(born + timedelta(days=1), day) < years


def test_times_and_written_words_come_back_as_they_were_kept() -> None:
    record = with_time(
        {"day": "2026-03-02"}, DOWNSIZING, datetime(2026, 4, 2, 14, 30), "Asia/Tokyo"
    )
    record = with_written(with_written(record, "ends", " flat discs "), "note", "  ")
    talk = talk_from(json.loads(json.dumps(record)))
    assert talk.times == {DOWNSIZING: Agreed(datetime(2026, 4, 2, 14, 30), "Asia/Tokyo")}
    assert talk.written == {"note": "", "ends": "flat discs", "material": ""}
    assert talk_from(with_time(record, DOWNSIZING, None)).times == {}
    assert talk_from(with_written(record, "ends", "")).written["ends"] == ""


@pytest.mark.parametrize(
    ("visit", "day", "stands"),
    [
        (CHECK, "2026-03-18", True),
        (CHECK, "2026-03-19", False),  # the piercing was put off past it
        (DAY, "2026-03-18", True),
        (DAY, "2026-03-17", False),
        ("visit.gone", "2026-03-02", False),
    ],
)
def test_no_time_stands_before_the_day_it_all_counts_from(
    visit: str, day: str, stands: bool
) -> None:
    record = with_time({"day": day}, visit, datetime(2026, 3, 18, 14, 30), "Europe/Berlin")
    assert bool(talk_from(record).times) == stands
