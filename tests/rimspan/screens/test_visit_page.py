"""Visits, Due, Outcomes on the screens: tapped, kept through the gate, and shown again."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from assess.ends import End
from assess.stock import StockItem
from assess.talk.spans import Days
from assess.visit_record import NextCheck, VisitRecord, WornNow
from rimspan.clientfile import Role
from rimspan.following import due
from rimspan.insertions import Happened, record_insertion
from rimspan.stock_keeping import NEW, receive
from rimspan.studio_limits import criteria_of, set_criteria
from rimspan.visits import record_visit, visits_of
from tests.rimspan.clientfile.made import new
from tests.rimspan.conftest import placement, result
from tests.rimspan.screens.conftest import ADULT, ALEX, Visit

KIM, SAM = "Kim Sample", "Sam Invented"
LONG, SHORT = 9.525, 7.9375
LENGTHS = (LONG, 7.14375, SHORT, 11.1125)
ITEM = StockItem(
    NEW,
    "labret",
    1.2,
    LONG,
    (End("ball", 3.0, 3.0), End("disc", 4.0, 0.8)),
    "Ti-6Al-4V ELI",
    "ASTM F136",
    "L-INVENTED",
    "B-1",
    2,
)


def pierced(visit: Visit, days_ago: int = 35, **changes: Any) -> Visit:
    """Save an invented assessment, and that a post went in some days ago."""
    visit.consult()
    now = visit.file.clock
    visit.file.clock = lambda: now() - timedelta(days=days_ago)  # the screens have another handle
    found = result(placement("1", **changes), confirmed_by=ALEX).model_dump(mode="json")
    made = visit.file.save_revision(
        new(visit.client, result=found, confirmed_by=ALEX, talk=ADULT["x_talk"]), "saved"
    )
    (alex,) = visit.file.people.all()
    for length in LENGTHS:
        receive(visit.file, alex, replace(ITEM, length_mm=length), f"{length}")
    at = visit.file.clock().astimezone()
    record_insertion(visit.file, alex, made.id, Happened(at, ALEX, {"1": "1"}), "insertion")
    visit.file.clock = now
    return visit


def begin(visit: Visit) -> Visit:
    visit.open("timeline").press("A visit")
    assert visit.title.startswith("Visit of Robin Example")
    return visit


def choose(visit: Visit, key: str, value: Any) -> Visit:
    """Choose in pills or a row of buttons."""
    next(each for each in visit.at.button_group if each.key == key).set_value(value)
    return visit.run()


def seen_and_decided(visit: Visit) -> Visit:
    box = next(each for each in visit.at.checkbox if each.label.startswith("I saw this ear"))
    box.check()
    visit.run()
    return visit.press("Keep the visit")


def test_a_downsizing_visit_from_the_timeline_and_back(visit: Any) -> None:
    begin(pierced(visit))
    assert "In now: 1.2 mm thick, 9.53 mm (3/8 in) long, lot L-INVENTED" in visit.words
    choose(visit, "visit done", "shorten")
    names = visit.at.selectbox(key="visit after").options
    assert [name.split(",")[1].split(" long")[0].strip() for name in names] == [
        "7.14 mm (9/32 in)",
        "7.94 mm (5/16 in)",
    ]
    assert "spare length 0.9 mm, between 0.1 and 1.7" in names[1]
    visit.at.selectbox(key="visit after").select_index(1)
    visit.run()
    seen_and_decided(visit)
    assert visit.title.startswith("Timeline")
    assert "Visit 1 is kept" in visit.words
    (kept,) = visits_of(visit.file, visit.client)
    assert kept.visit.after == WornNow(1.2, SHORT, "3", "L-INVENTED", "B-1")
    assert (kept.visit.done_by, kept.recorded_by) == (ALEX, ALEX)
    assert "5 weeks after the piercing" in visit.words
    assert visit.draft().get("x_visit") is None


def test_nothing_is_kept_without_the_box_or_what_is_done(visit: Any) -> None:
    begin(pierced(visit)).press("Keep the visit")
    assert "Nothing was kept." in visit.words
    assert "saw this ear yourself" in visit.words
    seen_and_decided(visit)
    assert "Say what is done." in visit.words
    choose(visit, "visit done", "shorten")
    visit.press("Keep the visit")
    assert "Say which post is in now." in visit.words
    assert visits_of(visit.file, visit.client) == []


def test_a_sinking_end_asks_for_a_longer_post_the_same_day(visit: Any) -> None:
    begin(pierced(visit))
    choose(visit, "visit signs", ["sinking"])
    assert "A longer post the same day" in visit.words
    choose(visit, "visit done", "keep")
    assert "Against it: an end sinks in" in visit.words
    seen_and_decided(visit)
    assert "Say why you go ahead" in visit.words
    assert visits_of(visit.file, visit.client) == []
    choose(visit, "visit done", "lengthen")
    visit.at.selectbox(key="visit after").select_index(0)
    visit.run().press("Keep the visit")
    (kept,) = visits_of(visit.file, visit.client)
    assert (kept.visit.done, kept.visit.signs) == ("lengthen", ("sinking",))
    assert kept.visit.after == WornNow(1.2, 11.1125, "4", "L-INVENTED", "B-1")


def test_signs_that_need_care_are_said_before_anything_is_kept(visit: Any) -> None:
    begin(pierced(visit))
    choose(visit, "visit signs", ["pus", "swollen"])
    assert "Licensed medical care the same day. The jewellery stays in" in visit.words
    choose(visit, "visit done", "keep")
    seen_and_decided(visit)
    assert "sent to licensed medical care today" in visit.words
    assert visits_of(visit.file, visit.client) == []
    visit.at.checkbox(key="visit care").check()
    visit.run().press("Keep the visit")
    (kept,) = visits_of(visit.file, visit.client)
    assert kept.visit.told_care


def test_what_was_tapped_is_there_after_leaving_the_page(visit: Any) -> None:
    begin(pierced(visit))
    choose(visit, "visit signs", ["swollen"])
    choose(visit, "visit troubles", ["bump"])
    visit.at.text_input(key="visit trouble bump").set_value("small, beside the exit")
    visit.run()
    token = visit.draft()["x_visit"]["token"]
    begin(visit.open("clients"))
    assert visit.draft()["x_visit"]["token"] == token
    assert visit.at.text_input(key="visit trouble bump").value == "small, beside the exit"
    assert "A shorter post waits" in visit.words


def test_an_apprentice_is_refused(visit: Any) -> None:
    pierced(visit)
    visit.signs_in(SAM, Role.APPRENTICE)
    begin(visit)
    choose(visit, "visit done", "keep")
    seen_and_decided(visit)
    assert "may not do that here" in visit.words
    assert visits_of(visit.file, visit.client) == []


def test_there_is_none_where_nothing_is_open(visit: Any) -> None:
    visit.open("visit")
    assert visit.title == "No visit is open"
    pierced(visit).open("visit")
    assert "begins at a saved assessment" in visit.words


def test_who_is_due_stands_on_start_and_on_its_page(visit: Any) -> None:
    pierced(visit, days_ago=18).open("clients")
    assert "**Due now**, 3 days left: First look" in visit.words  # 18 of 21 days are over
    visit.open("due")
    assert "Due now: 1" in visit.words
    assert "First look" in visit.at.text_area[0].value
    assert "Robin" not in visit.at.text_area[0].value
    key = next(each.key for each in visit.at.button_group if each.key.startswith("language-"))
    choose(visit, key, "de")
    assert "Hallo, es ist Zeit" in visit.at.text_area[0].value


def test_what_became_of_it_is_noted_and_counted_and_nobody_is_due_then(visit: Any) -> None:
    pierced(visit, days_ago=200).open("timeline")
    assert sum(map(len, due(visit.file).values())) == 1
    box = next(each for each in visit.at.selectbox if each.label == "What became of it")
    box.select_index(0)
    visit.run().press("Note it")
    assert "Noted what became of it." in visit.words
    assert "healed, noted by" in visit.words
    assert sum(map(len, due(visit.file).values())) == 0
    visit.open("outcomes")
    assert "1 of 1, 21 to 100 % (95 % interval)" in visit.words
    assert "These counts don't show" in visit.words


def test_changed_limits_are_what_measuring_uses_from_then_on(measured: Any) -> None:
    measured.open("answer")
    assert "assumed defaults, version 1" in measured.words
    measured.open("outcomes")
    measured.at.number_input(key="limit channel at least assumed defaults 1").set_value(7.5)
    measured.at.text_input(key="limits why").set_value("two short ones sank in")
    measured.run().press("Set the limits")
    assert "The new limits are in force." in measured.words
    assert criteria_of(measured.file).limits["channel"].low == 7.5
    assert f"by {ALEX}" in measured.words
    measured.open("answer")
    assert "this studio's limits, version 1" in measured.words
    assert "7.5 to 10 mm" in measured.words


def test_a_piercer_sees_the_limits_and_sets_none(visit: Any) -> None:
    visit.signs_in(KIM, Role.PIERCER)
    visit.open("outcomes")
    assert "A manager changes the limits." in visit.words
    assert not [b for b in visit.at.button if b.label == "Set the limits"]


def test_a_saved_assessment_keeps_the_limits_it_was_made_with(measured: Any) -> None:
    measured.open("sign")
    next(b for b in measured.at.checkbox if b.label.startswith("I examined")).check()
    measured.run()
    (person,) = measured.file.people.all()
    set_criteria(measured.file, person, {"channel": (7.5, 10.0)}, "invented", "token")
    measured.press("Save the assessment")
    assert "changed meanwhile" in measured.words  # what was looked at stood under other limits
    assert measured.file.revisions(measured.client) == []
    measured.run()
    next(b for b in measured.at.checkbox if b.label.startswith("I examined")).check()
    measured.run().press("Save the assessment")
    (saved,) = measured.file.revisions(measured.client)
    assert saved.criteria["limits"]["channel"]["low"] == 7.5


@pytest.mark.parametrize("day", [date(2031, 12, 29)])
def test_a_visit_shows_its_days_over_the_year_s_end(visit: Any, day: date) -> None:
    pierced(visit)
    made = VisitRecord(
        revision=1,
        label="1",
        on=day,
        pierced_on=day - timedelta(weeks=5),
        done="keep",
        done_by=ALEX,
        before=WornNow(1.2, LONG, "1", "L-INVENTED", "B-1"),
        after=WornNow(1.2, LONG, "1", "L-INVENTED", "B-1"),
        next_check=NextCheck("visit.again", Days(day, day + timedelta(days=7))),
    )
    record_visit(visit.file, visit.signs_in(), visit.client, made, "token")
    visit.open("timeline")
    assert "Next look: 29 December 2031 to 5 January 2032." in visit.words
