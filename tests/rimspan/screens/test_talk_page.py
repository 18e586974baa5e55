"""The Talk page: what is tapped is in the draft at once; the Sign page refuses what isn't met."""

from __future__ import annotations

from datetime import date, time
from typing import Any

import pytest

from assess.talk.chair import CHAIR
from assess.talk.consent import AgeRules
from assess.talk.plan import CHECK, plan_from
from assess.talk.questions import QUESTIONS
from rimspan.languages import language
from rimspan.screens.document import new_document
from rimspan.screens.stations import talk_word
from rimspan.screens.talk_days import weeks
from rimspan.screens.talk_draft import talk_of, with_running, with_talk
from rimspan.screens.talk_words import CHAIR as IN_THE_CHAIR
from rimspan.screens.talk_words import DAYS, age_words, ages
from rimspan.studio import age_rules
from rimspan.studio_clock import set_zone

MINOR = {"age": {"at_least_years": 16, "identity_checked": True}}
RULES = AgeRules()


def part(visit: Any, name: str) -> Any:
    visit.at.session_state["talk part"] = name
    return visit.open("talk")


def talk(visit: Any) -> dict[str, Any]:
    return dict(visit.draft().get("x_talk", {}))


def test_it_opens_where_something_is_open(visit: Any) -> None:
    visit.consult().open("talk")
    assert "The age isn't known" in visit.words
    visit.at.checkbox(key="age identity_checked").check()
    visit.run()
    assert talk(visit)["age"] == {"identity_checked": True}
    assert "Nobody looked at an identity paper" not in visit.words


def test_one_question_stands_there_until_it_is_answered(visit: Any) -> None:
    visit.consult(document=new_document("left") | {"x_talk": {"age": {"at_least_years": 18}}})
    part(visit, "Questions")
    for question in QUESTIONS:
        assert [each.value for each in visit.at.subheader] == [question.text]
        visit.press(question.answers[0].text)
    assert not visit.at.subheader
    assert "Every question is answered." in visit.words
    assert talk(visit)["answers"].keys() == {question.id for question in QUESTIONS}


def test_a_minor_alone_is_refused_on_the_sign_page_and_nothing_is_saved(measured: Any) -> None:
    draft = measured.draft()
    measured.file.save_draft(measured.client, "left", draft | {"x_talk": MINOR})
    measured.open("sign")
    assert "A guardian must be present" in measured.words  # said before anybody signs
    measured.at.checkbox[0].check()
    measured.press("Save the assessment")
    assert "Nothing was saved." in measured.words
    assert "Age and consent aren't met. A guardian must be present" in measured.words
    assert measured.file.revisions(measured.client) == []


def test_what_was_asked_is_saved_with_the_assessment_and_never_in_the_marks(measured: Any) -> None:
    measured.open("sign")
    measured.at.checkbox[0].check()
    measured.press("Save the assessment")
    (revision,) = measured.file.revisions(measured.client)
    assert revision.saved.talk == measured.draft()["x_talk"]
    assert not [name for name in revision.marks if name.startswith("x_")]
    # Ticks in the chair come after saving as well, and it stays saved.
    part(measured, IN_THE_CHAIR)
    measured.at.checkbox(key=f"step {CHAIR[0].id}").check()
    measured.run()
    assert talk(measured)["chair"] == [CHAIR[0].id]
    assert "Saved as revision 1." in measured.open("sign").words


def test_the_studios_ages_are_set_by_a_manager_on_the_people_page(visit: Any) -> None:
    visit.open("people")
    visit.at.number_input(key="least").set_value(18)
    visit.at.number_input(key="adult").set_value(21)
    visit.press("Set the ages")
    assert age_rules(visit.file) == AgeRules(18, 21)


def test_the_clients_own_days_are_kept_and_held_against_the_visits(visit: Any) -> None:
    visit.consult()
    part(visit, DAYS)
    visit.at.date_input(key="trip first").set_value(date(2027, 1, 20))
    visit.at.date_input(key="trip last").set_value(date(2027, 1, 10))
    visit.press("Add these days")
    assert "The last day lies before the first." in visit.words
    assert "trips" not in talk(visit)
    visit.at.date_input(key="piercing day").set_value(date(2027, 1, 1))
    visit.at.date_input(key="trip first").set_value(date(2027, 1, 10))
    visit.at.date_input(key="trip last").set_value(date(2027, 1, 20))
    visit.press("Add these days")
    (kept,) = talk(visit)["trips"]
    assert kept == {"name": "ask.trip.trip", "first": "2027-01-10", "last": "2027-01-20"}
    assert "comes too early" in visit.words
    assert "from 21 January 2027 on" in visit.words


def test_a_time_is_tapped_and_goes_into_the_file_by_the_studios_clock(visit: Any) -> None:
    set_zone(visit.file, visit.signs_in(), "Europe/Berlin")
    visit.consult()
    part(visit, DAYS)
    visit.at.date_input(key="piercing day").set_value(date(2027, 3, 10))
    visit.run()
    visit.press("Agree a time: First look")
    days = visit.at.button_group(key="time day")
    assert [days.options[0], days.options[-1]] == ["Wed 24 Mar", "Wed 31 Mar"]
    days.set_value(date(2027, 3, 26))
    visit.run()
    assert "times" not in talk(visit)  # a day alone is no time
    visit.at.button_group(key="time hour").set_value(time(14, 30))
    visit.run()
    agreed = {"at": "2027-03-26T14:30", "zone": "Europe/Berlin"}
    assert talk(visit)["times"] == {CHECK: agreed}
    assert talk(visit)["day"] == "2027-03-10"
    assert "First look: 26 March 2027, 14:30." in visit.words
    assert "Europe/Berlin" in visit.words
    # Put off past it, the time doesn't stand; taken back, it is gone.
    visit.at.date_input(key="piercing day").set_value(date(2027, 3, 20))
    visit.run()
    assert "Not one of the days of this visit" in visit.words
    visit.press("Take it back")
    assert talk(visit)["times"] == {}


def test_the_day_moves_behind_a_trip_with_one_tap(visit: Any) -> None:
    draft = {"day": "2027-01-01", "trips": [{"name": "ask.trip.trip"} | TRIP]}
    visit.consult(document=new_document("left") | {"x_talk": draft})
    part(visit, DAYS)
    visit.press("Plan from 21 January 2027 on")
    assert talk(visit)["day"] == "2027-01-21"
    assert "comes too early" not in visit.words


TRIP = {"first": "2027-01-10", "last": "2027-01-20"}


def box(visit: Any) -> Any:
    return next(b for b in visit.at.checkbox if b.label.startswith("I examined this ear"))


def test_a_tick_that_comes_together_with_the_decision_is_not_lost(measured: Any) -> None:
    """Both reach the program in one run where the second tap follows fast."""
    measured.open("sign")
    measured.at.button_group(key="decided").set_value("waits")
    box(measured).check()
    measured.run()
    assert box(measured).value is True
    measured.press("Save the assessment")
    (revision,) = measured.file.revisions(measured.client)
    assert revision.saved.talk["decided"] == "waits"


def test_a_tick_from_before_the_decision_or_a_written_reason_is_taken_off(measured: Any) -> None:
    measured.open("sign")
    for key, change in (("decided", "waits"), ("written note", "A reason.")):
        box(measured).check()
        measured.run()
        assert box(measured).value is True
        kind = measured.at.button_group if key == "decided" else measured.at.text_input
        kind(key=key).set_value(change)
        measured.run()
        assert box(measured).value is False
    measured.press("Save the assessment")
    assert "Nothing was saved." in measured.words
    assert measured.file.revisions(measured.client) == []


def test_what_was_decided_after_saving_is_another_draft() -> None:
    draft = new_document("left") | {"x_saved": {"id": "a", "number": 1}}
    assert "x_saved" not in with_talk(draft, {"decided": "waits"})


def test_a_signed_sheet_is_offered_again_on_the_timeline(measured: Any) -> None:
    measured.open("sign")
    measured.at.button_group(key="decided").set_value("goes_ahead")
    measured.at.text_input(key="written ends").set_value("flat discs")
    measured.run()
    box(measured).check()
    measured.run()
    measured.press("Save the assessment")
    (revision,) = measured.file.revisions(measured.client)
    assert revision.saved.talk["written"] == {"ends": "flat discs"}
    assert measured.at.text_input(key=f"sheet ends {revision.id}").value == "flat discs"
    measured.open("timeline")
    measured.press("Open again")
    labels = [each.label for each in measured.at.get("download_button")]
    assert "Download the client's sheet (PDF)" in labels
    assert "Visits for a calendar (.ics)" in labels
    assert "as it was then" in measured.words


def test_an_answer_is_another_draft_a_tick_is_not() -> None:
    draft = new_document("left") | {"x_saved": {"id": "a", "number": 1}}
    assert "x_saved" not in with_talk(draft, {"answers": {}})
    ticked = with_running(draft, {"chair": [CHAIR[0].id]})
    assert (ticked["x_saved"], ticked["x_token"]) == (draft["x_saved"], draft["x_token"])


@pytest.mark.parametrize(
    ("record", "word"),
    [
        ({}, "age and consent open"),
        ({"age": {"at_least_years": 18, "identity_checked": True}}, "nothing asked"),
    ],
)
def test_the_strip_says_what_the_talk_lacks(record: dict[str, Any], word: str) -> None:
    document = new_document("left") | {"x_talk": record}
    assert talk_word(talk_of(document), RULES) == word


def test_ages_are_said_with_the_dates_of_birth_that_they_mean() -> None:
    words = [age_words(years, RULES, date(2026, 3, 1), language("en")) for years in ages(RULES)]
    assert words == [
        "18 or older: born 1 March 2008 or before",
        "16 to 17: born 1 March 2010 or before",
        "Under 16: born after 1 March 2010",
    ]


def test_the_strip_of_weeks_has_a_row_for_each_visit_at_its_place() -> None:
    drawn = weeks(plan_from(date(2027, 1, 1)), (), language("en"))
    # The shorter post: 4 to 6 weeks of the 16 that are shown; both days counted in.
    assert "left:25.0%;width:13.4%" in drawn
    assert drawn.count("rim-track") == 3
