"""Visits, who is due, outcomes and limits in the client file: the gates, and each kept once.

All names are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import vobject

from assess.criteria import DEFAULT_CRITERIA
from assess.ends import End
from assess.insertion import Declined, RecordError
from assess.outcome_counts import Became, OutcomeRecord
from assess.stock import StockItem
from assess.talk.plan import CHECK, LATER_CHECK
from assess.talk.spans import Days
from assess.visit_record import CHECK_AGAIN, NextCheck, Noted, VisitRecord, WornNow
from rimspan.client_papers import check_calendar
from rimspan.clientfile import (
    ClientFile,
    OvertakenError,
    RefusedError,
    Revision,
    Role,
    UnknownError,
    export_client,
    import_client,
)
from rimspan.following import due, followed, record_outcome
from rimspan.insertions import Happened, record_insertion
from rimspan.languages import language
from rimspan.reminders import reminder
from rimspan.stock_keeping import NEW, count_anew, receive, stock_of
from rimspan.studio import NotAllowedError
from rimspan.studio_clock import set_zone, today
from rimspan.studio_limits import criteria_of, set_criteria, versions
from rimspan.visits import Sent, piercings, record_visit, visits_of
from tests.rimspan.clientfile.made import new, noise

ALEX, KIM, SAM = "Alex Invented", "Kim Sample", "Sam Invented"
TALK = {"age": {"at_least_years": 18, "identity_checked": True}}
ITEM = StockItem(
    NEW,
    "labret",
    1.2,
    9.525,
    (End("ball", 3.0, 3.0), End("disc", 4.0, 0.8)),
    "Ti-6Al-4V ELI",
    "ASTM F136",
    "L-1",
    "B-1",
    3,
)
LONG = WornNow(1.2, 9.525, "1", "L-1", "B-1")


class Studio:
    def __init__(self, file: ClientFile) -> None:
        self.file = file
        self.now = datetime(2031, 3, 3, 12, tzinfo=UTC)
        file.clock = lambda: self.now
        people = file.people
        self.alex = people.add(ALEX, Role.MANAGER, "invented password")
        self.kim = people.add(KIM, Role.PIERCER, "invented password")
        self.sam = people.add(SAM, Role.APPRENTICE, "invented password")
        self.client = file.create_client("Robin Example (invented)").id
        receive(file, self.kim, ITEM, "first")
        receive(file, self.kim, replace(ITEM, length_mm=7.9375, count=1), "second")

    def saved(self, token: str = "saved") -> Revision:
        channel = {"value": 7.0, "u": 0.4, "low": 6.2, "high": 7.8, "unit": "mm"}
        placements = [{"label": "1", "channel": channel}, {"label": "2", "channel": None}]
        held = {"result": {"placements": placements}, "confirmed_by": KIM, "talk": TALK}
        return self.file.save_revision(new(self.client, **held), token)

    def put_in(self, revision: Revision) -> None:
        declined = (Declined("2", "one is enough", "client"),)
        what = Happened(self.now, KIM, {"1": "1"}, declined=declined)
        record_insertion(self.file, self.kim, revision.id, what, "insertion")

    def counts(self) -> dict[str, int]:
        return {item.key: item.count for item in stock_of(self.file).stock.items}

    def visit(self, **changes: Any) -> VisitRecord:
        on = self.now.date()
        held: dict[str, Any] = {
            "revision": 1,
            "label": "1",
            "on": on,
            "pierced_on": date(2031, 3, 3),
            "done": "shorten",
            "done_by": KIM,
            "before": LONG,
            "after": WornNow(1.2, 7.9375),
            "next_check": NextCheck(
                LATER_CHECK, Days(on + timedelta(weeks=7), on + timedelta(weeks=9))
            ),
        }
        return VisitRecord(**held | changes)

    def states(self) -> dict[str, list[str]]:
        return {
            state: [each.check.name for each in those]
            for state, those in due(self.file).items()
            if those
        }

    def becomes(self, became: Became, token: str = "outcome", **more: Any) -> OutcomeRecord:
        made = OutcomeRecord(1, "1", self.now.date(), became, KIM, **more)
        return record_outcome(self.file, self.kim, self.client, made, token)


@pytest.fixture
def studio(tmp_path: Path) -> Iterator[Studio]:
    with ClientFile.open(tmp_path / "store") as file:
        yield Studio(file)


def test_what_is_in_comes_from_the_insertion_and_then_from_visits(studio: Studio) -> None:
    revision = studio.saved()
    assert [(p.label, p.worn) for p in piercings(studio.file, studio.client, revision)] == [
        ("1", None),
        ("2", None),
    ]
    studio.put_in(revision)
    (found,) = piercings(studio.file, studio.client, revision)  # the declined one is none
    assert found.worn == LONG
    assert found.pierced_on == date(2031, 3, 3)
    studio.now += timedelta(weeks=5)
    record_visit(studio.file, studio.kim, studio.client, studio.visit(), "token")
    (found,) = piercings(studio.file, studio.client, revision)
    assert found.worn == WornNow(1.2, 7.9375)
    assert [kept.number for kept in found.visits] == [1]
    gone = studio.visit(done="remove", before=WornNow(1.2, 7.9375), after=None, next_check=None)
    record_visit(studio.file, studio.kim, studio.client, gone, "gone")
    (found,) = piercings(studio.file, studio.client, revision)
    assert found.out
    with pytest.raises(RefusedError, match="was removed"):
        record_visit(studio.file, studio.kim, studio.client, studio.visit(), "again")


def test_the_same_token_keeps_one_visit(studio: Studio) -> None:
    studio.saved()
    photo = Sent("bump", "bump.jpg", noise(1, 16))
    visit = studio.visit(troubles=(Noted("bump", "small, beside the exit"),))
    made = record_visit(studio.file, studio.kim, studio.client, visit, "token", [photo])
    again = record_visit(studio.file, studio.kim, studio.client, visit, "token", [photo])
    assert again == made
    assert visits_of(studio.file, studio.client) == [made]
    (noted,) = made.visit.troubles
    assert made.photos == (noted.photo,)
    assert noted.words == "small, beside the exit"
    assert len(studio.file.photos(studio.client)) == 1
    assert studio.file.verify() == []


def test_the_post_that_went_in_is_counted_down_once(studio: Studio) -> None:
    studio.put_in(studio.saved())
    assert studio.counts() == {"1": 2, "2": 1}
    visit = studio.visit(after=WornNow(1.2, 7.9375, "2", "L-1", "B-1"))
    for _ in range(2):
        record_visit(studio.file, studio.kim, studio.client, visit, "token")
    assert studio.counts() == {"1": 2, "2": 0}
    stays = replace(visit, done="keep", before=visit.after)
    record_visit(studio.file, studio.kim, studio.client, stays, "stays")
    assert studio.counts() == {"1": 2, "2": 0}
    with pytest.raises(RefusedError, match="another post is in"):
        record_visit(studio.file, studio.kim, studio.client, visit, "as before")


def test_a_post_that_is_not_there_went_in_nowhere(studio: Studio) -> None:
    studio.put_in(studio.saved())
    count_anew(studio.file, studio.kim, "2", 0, "lost", "counted")
    visit = studio.visit(after=WornNow(1.2, 7.9375, "2", "L-1", "B-1"))
    with pytest.raises(RefusedError, match="none left"):
        record_visit(studio.file, studio.kim, studio.client, visit, "token")
    assert visits_of(studio.file, studio.client) == []


@pytest.mark.parametrize("who", ["sam", "nobody", "left"])
def test_only_a_piercer_keeps_one(studio: Studio, who: str) -> None:
    studio.saved()
    by = {"sam": studio.sam, "nobody": None, "left": studio.kim}[who]
    if who == "left":
        studio.file.people.change(studio.kim, active=False)
    with pytest.raises(NotAllowedError):
        record_visit(studio.file, by, studio.client, studio.visit(done_by=ALEX), "token")
    assert visits_of(studio.file, studio.client) == []


@pytest.mark.parametrize("name", [SAM, "Somebody Else"])
def test_only_a_piercer_did_it(studio: Studio, name: str) -> None:
    studio.saved()
    with pytest.raises(NotAllowedError, match="isn't a piercer here"):
        record_visit(studio.file, studio.kim, studio.client, studio.visit(done_by=name), "token")


def test_not_on_what_is_void_missing_or_erased(studio: Studio) -> None:
    revision = studio.saved()

    def refused(error: type[Exception], said: str, **changes: Any) -> None:
        visit = studio.visit(**changes)
        with pytest.raises(error, match=said):
            record_visit(studio.file, studio.kim, studio.client, visit, "token")

    refused(RefusedError, "no revision 2", revision=2)
    refused(RefusedError, "isn't in revision 1", label="9")
    studio.file.void_revision(revision.id, KIM, "the wrong ear")
    refused(RefusedError, "is void")
    studio.file.erase_client(studio.client, by=ALEX)
    refused(UnknownError, "erased")


def test_no_photo_without_consent_and_then_nothing_is_kept(studio: Studio) -> None:
    studio.saved()
    studio.file.consents.record(studio.client, given=False, by=KIM)
    visit, photo = studio.visit(troubles=(Noted("bump"),)), Sent("bump", "b.jpg", noise(1, 16))
    with pytest.raises(RefusedError, match="withdrew the consent"):
        record_visit(studio.file, studio.kim, studio.client, visit, "token", [photo])
    sent = replace(photo, name="text.jpg", data=b"no photo")
    studio.file.consents.record(studio.client, given=True, by=KIM)
    with pytest.raises(RefusedError, match="text"):
        record_visit(studio.file, studio.kim, studio.client, visit, "token", [sent])
    assert visits_of(studio.file, studio.client) == []


def test_two_chairs_do_not_keep_one_visit_each_unseen(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    studio.saved()
    real, seen = studio.file.records, list(studio.file.records("visit", studio.client))

    def stale(kind: str, client: str | None = None) -> Any:
        return seen if kind == "visit" else real(kind, client)

    record_visit(studio.file, studio.alex, studio.client, studio.visit(), "theirs")
    monkeypatch.setattr(studio.file, "records", stale)
    with pytest.raises(OvertakenError):
        record_visit(studio.file, studio.kim, studio.client, studio.visit(), "ours")


def test_visits_come_along_to_another_file(studio: Studio, tmp_path: Path) -> None:
    studio.saved()
    photo = Sent("bump", "bump.jpg", noise(1, 16))
    visit = studio.visit(troubles=(Noted("bump"),))
    made = record_visit(studio.file, studio.kim, studio.client, visit, "token", [photo])
    export_client(studio.file, studio.client, tmp_path / "out")
    with ClientFile.open(tmp_path / "other") as other:
        brought = import_client(other, tmp_path / "out")
        (read,) = visits_of(other, brought.id)
        assert (read.visit, read.photos) == (made.visit, made.photos)


# Due


def test_who_is_due_from_the_insertion_to_what_became_of_it(studio: Studio) -> None:
    """Inserted 3 March: the first look 17 to 24 March; silent four weeks after its last day."""
    studio.put_in(studio.saved())
    seen = []
    for day in ("03-16", "03-17", "03-24", "03-25", "04-21", "04-22"):
        studio.now = datetime.fromisoformat(f"2031-{day}T12:00:00+00:00")
        seen.append(studio.states())
    assert seen == [{s: [CHECK]} for s in ("later", "due", "due", "overdue", "overdue", "silent")]
    studio.now = datetime(2031, 4, 7, 12, tzinfo=UTC)
    check = NextCheck(CHECK_AGAIN, Days(date(2031, 4, 14), date(2031, 4, 21)))
    longer = studio.visit(
        done="lengthen", after=WornNow(1.2, 11.1125), signs=("sinking",), next_check=check
    )
    record_visit(studio.file, studio.kim, studio.client, longer, "token")
    assert studio.states() == {"later": [CHECK_AGAIN]}
    studio.becomes("migrated")
    assert studio.states() == {"later": [CHECK_AGAIN]}  # no ending: somebody is still expected
    studio.becomes("healed", "healed")
    assert studio.states() == {}


def test_who_was_lost_and_came_back_is_expected_again(studio: Studio) -> None:
    studio.put_in(studio.saved())
    studio.now += timedelta(weeks=12)
    studio.becomes("lost")
    assert studio.states() == {}
    studio.now += timedelta(days=1)
    record_visit(studio.file, studio.kim, studio.client, studio.visit(), "token")
    assert studio.states() == {"later": [LATER_CHECK]}


def test_who_is_erased_is_on_no_list(studio: Studio) -> None:
    studio.put_in(studio.saved())
    studio.becomes("healed")
    studio.file.erase_client(studio.client, by=ALEX)
    assert studio.states() == {}
    assert followed(studio.file) == []


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/New_York", "UTC"])
def test_the_list_goes_by_the_day_of_this_place_when_the_clocks_change(
    studio: Studio, zone: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half an hour before and after midnight round the Sunday on which the clocks change."""
    import time
    from zoneinfo import ZoneInfo

    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        sunday = date(2031, 3, 9) if zone.startswith("America") else date(2031, 3, 30)
        for day in (sunday, sunday + timedelta(days=1), date(2032, 1, 1)):
            midnight = datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(zone))
            turn = midnight.astimezone(UTC)
            studio.now = turn - timedelta(minutes=30)
            assert today(studio.file) == day - timedelta(days=1)
            studio.now = turn + timedelta(minutes=30)
            assert today(studio.file) == day
    finally:
        monkeypatch.undo()
        time.tzset()


def test_the_studio_s_own_zone_says_which_day_it_is(studio: Studio) -> None:
    studio.now = datetime(2031, 12, 31, 23, 30, tzinfo=UTC)
    set_zone(studio.file, studio.alex, "Asia/Tokyo")
    assert today(studio.file) == date(2032, 1, 1)
    set_zone(studio.file, studio.alex, "America/New_York")
    assert today(studio.file) == date(2031, 12, 31)


@pytest.mark.parametrize(("code", "day"), [("en", "5 January 2032"), ("de", "5. Januar 2032")])
def test_a_reminder_says_nothing_of_the_client_and_what_does_not_wait(code: str, day: str) -> None:
    check = NextCheck(CHECK_AGAIN, Days(date(2031, 12, 29), date(2032, 1, 5)))
    for late in (False, True):
        text = reminder(check, language(code), late=late)
        assert day in text
        assert ("doctor the same day" if code == "en" else "selben Tag zum Arzt") in text
        assert not {"left", "right", "links", "rechts"} & set(text.lower().split())
    assert reminder(check, language(code), late=True) != reminder(check, language(code), late=False)


def test_the_days_go_into_a_calendar_as_another_parser_reads_them() -> None:
    check = NextCheck(CHECK_AGAIN, Days(date(2031, 12, 29), date(2032, 1, 5)))
    stamp = datetime(2031, 12, 1, 12, tzinfo=UTC)
    made = check_calendar("client left 1 1", check, language("en"), stamp)
    (event,) = vobject.readOne(made.decode()).vevent_list
    assert event.dtstart.value == date(2031, 12, 29)
    assert event.dtend.value == date(2032, 1, 6)  # RFC 5545: not part of the event
    assert "client" not in event.uid.value
    assert check_calendar("client left 1 2", check, language("en"), stamp) != made


# Outcomes and limits


def test_outcomes_stand_beside_what_was_measured(studio: Studio) -> None:
    studio.put_in(studio.saved())
    made = studio.becomes("infection", clinician="Dr Invented")
    assert studio.becomes("infection", clinician="Dr Invented") == made
    studio.becomes("healed", "healed")
    (found,) = followed(studio.file)
    assert found.noted == ("infection", "healed")
    assert found.channel_mm == 7.0
    with pytest.raises(NotAllowedError):
        record_outcome(studio.file, studio.sam, studio.client, made, "sam's")
    with pytest.raises(RefusedError, match="isn't in revision 1"):
        record_outcome(studio.file, studio.kim, studio.client, replace(made, label="9"), "x")
    with pytest.raises(RecordError):
        studio.becomes("infection", "no clinician")


def test_a_manager_sets_limits_with_a_reason_once(studio: Studio) -> None:
    file = studio.file
    assert criteria_of(file) == DEFAULT_CRITERIA
    sides = {"channel": (5.0, 9.0)}
    for by in (studio.kim, studio.sam, None):
        with pytest.raises(NotAllowedError):
            set_criteria(file, by, sides, "because", "token")
    with pytest.raises(RefusedError, match="say why"):
        set_criteria(file, studio.alex, sides, " ", "token")
    made = set_criteria(file, studio.alex, sides, "two sank in", "token")
    assert set_criteria(file, studio.alex, sides, "two sank in", "token") == made
    assert criteria_of(file) == made
    assert made.version == "1"
    with pytest.raises(RefusedError, match="nothing was changed"):
        set_criteria(file, studio.alex, sides, "again", "other")
    second = set_criteria(file, studio.alex, {"relief": (3.5, None)}, "and relief", "next")
    assert (second.version, second.limits["channel"].low) == ("2", 5.0)
    told = [(each.number, each.by, each.why) for each in versions(file)]
    assert told == [(2, ALEX, "and relief"), (1, ALEX, "two sank in")]
