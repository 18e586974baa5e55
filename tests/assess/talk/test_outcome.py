"""Where answers lead, one by one and together."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assess.talk.health import ON_HEALTH
from assess.talk.outcome import Given, Outcome, Question, together
from assess.talk.questions import QUESTIONS

NOTHING = {question.id: Given((question.answers[0].id,)) for question in QUESTIONS}
"""The first answer to each question: nothing that speaks against it."""


def one(question: Question) -> st.SearchStrategy[Given]:
    single = st.sampled_from([answer.id for answer in question.answers]).map(lambda a: (a,))
    if not question.several:
        return st.builds(Given, single, st.none() | st.dates())
    beside = [answer.id for answer in question.answers if not answer.alone]
    several = st.lists(st.sampled_from(beside), min_size=1, unique=True).map(tuple)
    return st.builds(Given, single | several, st.none())


EVERYTHING = st.fixed_dictionaries({}, optional={q.id: one(q) for q in QUESTIONS})


def test_nothing_against_it_goes_on() -> None:
    found = together(QUESTIONS, NOTHING)
    assert found.outcome is Outcome.GO_ON
    assert found.findings == ()
    assert found.unasked == ()


def test_what_nobody_asked_stays_with_the_piercer() -> None:
    for question in QUESTIONS:
        rest = {name: answer for name, answer in NOTHING.items() if name != question.id}
        found = together(QUESTIONS, rest)
        assert found.outcome is Outcome.PIERCER
        assert found.unasked == (question.id,)


@pytest.mark.practice("common practice, no source")
@pytest.mark.parametrize(
    ("question", "answer", "leads"),
    [
        ("ask.trip", "trip", Outcome.WAIT),
        ("ask.trip", "swim", Outcome.WAIT),
        ("ask.rules", "allowed", Outcome.GO_ON),
        ("ask.rules", "unknown", Outcome.WAIT),
        ("ask.rules", "never", Outcome.WAIT),
        ("ask.sleep", "same", Outcome.PIERCER),
        ("ask.touches", "helmet", Outcome.PIERCER),
        ("ask.touches", "phone", Outcome.GO_ON),
        ("ask.sober", "today", Outcome.WAIT),
        ("ask.scan", "planned", Outcome.WAIT),
    ],
)
def test_where_the_trade_leads(question: str, answer: str, leads: Outcome) -> None:
    assert together(QUESTIONS, NOTHING | {question: Given((answer,))}).outcome is leads


@pytest.mark.memory(source="councils' guidance for operators: what to ask a doctor about first")
@pytest.mark.parametrize(
    "answer", ["bleeding", "diabetes", "heart", "immunity", "epilepsy", "skin", "pregnant"]
)
def test_conditions_lead_to_a_doctor(answer: str) -> None:
    found = together(QUESTIONS, NOTHING | {"ask.health": Given((answer,))})
    assert found.outcome is Outcome.DOCTOR


def test_no_answer_on_health_is_passed_over_or_judged() -> None:
    """Every one but "no" leads to the piercer, to a doctor, or to another day."""
    for question in ON_HEALTH:
        assert question.health
        for answer in question.answers[1:]:
            assert answer.outcome is not Outcome.GO_ON, answer.id
            assert answer.says is not None
        leads = {answer.outcome for answer in question.answers[1:]}
        if question.id not in {"ask.scan", "ask.sober"}:
            assert leads <= {Outcome.PIERCER, Outcome.DOCTOR}


def test_what_is_said_on_paper_names_no_condition() -> None:
    words = (
        *("scar", "keloid", "bleed", "diabet", "heart", "immun", "epilep", "faint", "skin"),
        *("pregnan", "allerg", "latex", "alcohol", "drug", "sober", "scan", "mri", "operation"),
    )
    for question in ON_HEALTH:
        for answer in question.answers:
            if answer.says is not None:
                assert not [word for word in words if word in answer.says.text.lower()]


def test_the_weightier_leads_and_the_rest_stays_in_sight() -> None:
    found = together(
        QUESTIONS,
        NOTHING
        | {
            "ask.sleep": Given(("same",)),
            "ask.trip": Given(("swim",), date(2026, 9, 1)),
            "ask.health": Given(("heart", "fainting")),
        },
    )
    assert found.outcome is Outcome.DOCTOR
    assert [f.answer.id for f in found.findings] == ["swim", "same", "heart", "fainting"]
    assert found.until == date(2026, 9, 1)


def test_several_dates_give_the_latest_and_one_without_gives_none() -> None:
    dated = NOTHING | {
        "ask.trip": Given(("trip",), date(2026, 5, 1)),
        "ask.scan": Given(("planned",), date(2026, 7, 1)),
    }
    assert together(QUESTIONS, dated).until == date(2026, 7, 1)
    assert together(QUESTIONS, dated | {"ask.sober": Given(("today",))}).until is None
    assert together(QUESTIONS, NOTHING).until is None


@given(EVERYTHING)
def test_the_outcome_is_never_lighter_than_any_answer(given_answers: dict[str, Given]) -> None:
    found = together(QUESTIONS, given_answers)
    by_name = {question.id: question for question in QUESTIONS}
    leads = [
        by_name[name].answer(answer).outcome
        for name, answers in given_answers.items()
        for answer in answers.answers
    ]
    least = Outcome.GO_ON if len(given_answers) == len(QUESTIONS) else Outcome.PIERCER
    assert found.outcome is max([least, *leads])
    told = {f.answer.id for f in found.findings}
    for name, answers in given_answers.items():
        for answer in answers.answers:
            if by_name[name].answer(answer).outcome is not Outcome.GO_ON:
                assert answer in told


@pytest.mark.parametrize(
    ("answers", "message"),
    [
        ({"ask.dreams": Given(("none",))}, "must answer the questions"),
        ({"ask.trip": Given(("moon",))}, "must be an answer to ask.trip"),
        ({"ask.trip": Given(("trip", "swim"))}, "must have one answer"),
        ({"ask.health": Given(("none", "heart"))}, "must stand alone"),
    ],
)
def test_answers_that_cannot_be_are_bugs(answers: dict[str, Given], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        together(QUESTIONS, answers)


def test_a_first_answer_never_speaks_against_it() -> None:
    for question in QUESTIONS:
        first = question.answers[0]
        assert first.outcome is Outcome.GO_ON
        assert first.says is None
