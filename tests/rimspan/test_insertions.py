"""What happens at the chair, in the client file: the gates, and stock counted down once.

All names, lots and makes are invented.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from assess.ends import End
from assess.insertion import Declined, NotHere, OpenedUnused
from assess.stock import StockItem
from assess.talk.consent import AgeRules
from rimspan import studio
from rimspan.clientfile import (
    ClientFile,
    OvertakenError,
    Person,
    RefusedError,
    Revision,
    Role,
    export_client,
    import_client,
)
from rimspan.insertions import (
    Happened,
    record_baseline,
    record_insertion,
    sittings,
)
from rimspan.not_here import not_here_of, record_not_here, record_wish, wish_of
from rimspan.screens.drafts import draft_of
from rimspan.stock_keeping import NEW, count_anew, offered, receive, stock_of
from rimspan.studio import NotAllowedError
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
    "LOT-INVENTED-1",
    "B-12",
    3,
)
LONGER = replace(ITEM, length_mm=11.1125, lot="LOT-INVENTED-2", count=1)


class Chair:
    def __init__(self, file: ClientFile) -> None:
        self.file = file
        people = file.people
        self.alex = people.add(ALEX, Role.MANAGER, "invented password")
        self.kim = people.add(KIM, Role.PIERCER, "invented password")
        self.sam = people.add(SAM, Role.APPRENTICE, "invented password")
        self.client = file.create_client("Robin Example (invented)").id
        receive(file, self.kim, ITEM, "first")
        receive(file, self.kim, LONGER, "second")

    def saved(
        self, token: str = "saved", created_at: datetime | None = None, **changes: Any
    ) -> Revision:
        placements = [{"label": "1"}, {"label": "2"}]
        held = {"result": {"placements": placements}, "confirmed_by": KIM, "talk": TALK}
        saved = new(self.client, **held | changes)
        return self.file.save_revision(saved, token, created_at=created_at)

    def insert(
        self, revision: Revision, token: str = "token", by: Person | None = None, **more: Any
    ) -> Any:
        at = revision.created_at.astimezone() + timedelta(seconds=1)
        held: dict[str, Any] = {"at": at, "pierced_by": KIM, "chosen": {"1": "1"}}
        return record_insertion(
            self.file, by or self.kim, revision.id, Happened(**held | more), token
        )

    def counts(self) -> dict[str, int]:
        return {item.key: item.count for item in stock_of(self.file).stock.items}


@pytest.fixture
def chair(tmp_path: Path) -> Iterator[Chair]:
    with ClientFile.open(tmp_path / "store") as file:
        yield Chair(file)


def test_what_went_in_reads_back_and_the_stock_is_down(chair: Chair) -> None:
    revision = chair.saved()
    opened = (OpenedUnused("1", "dropped"),)
    declined = (Declined("2", "one is enough for today", "client"),)
    made = chair.insert(revision, opened_unused=opened, declined=declined)
    (read,) = sittings(chair.file, chair.client)
    assert read == made
    assert (read.revision, read.side, read.recorded_by) == (1, "left", KIM)
    (put,) = read.insertion.put_in
    assert (put.label, put.gauge_mm, put.length_mm, put.lot) == ("1", 1.2, 9.525, "LOT-INVENTED-1")
    assert (read.insertion.opened_unused, read.insertion.declined) == (opened, declined)
    assert read.items["1"].standard == "ASTM F136"
    assert chair.counts() == {"1": 1, "2": 1}
    assert chair.file.verify() == []


def test_the_same_token_counts_down_once(chair: Chair) -> None:
    revision = chair.saved()
    made = chair.insert(revision)
    assert chair.insert(revision) == made
    assert chair.counts() == {"1": 2, "2": 1}
    with pytest.raises(RefusedError, match="was recorded before"):
        chair.insert(revision, "another tap")
    assert chair.counts() == {"1": 2, "2": 1}


def test_stock_and_record_are_kept_together_or_not_at_all(
    chair: Chair, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another chair changes the stock between reading and keeping."""
    revision, stale = chair.saved(), stock_of(chair.file)
    count_anew(chair.file, chair.alex, "1", 0, "counted", "counted")
    monkeypatch.setattr("rimspan.insertions.stock_of", lambda file: stale)
    with pytest.raises(OvertakenError):
        chair.insert(revision)
    assert sittings(chair.file, chair.client) == []
    assert chair.counts() == {"1": 0, "2": 1}


def test_a_void_assessment_is_no_ground(chair: Chair) -> None:
    revision = chair.saved()
    chair.file.void_revision(revision.id, KIM, "the wrong ear")
    with pytest.raises(RefusedError, match="is void"):
        chair.insert(revision)
    assert chair.counts() == {"1": 3, "2": 1}
    declined = (Declined("1", "the wrong ear was measured", "piercer"),)
    assert chair.insert(revision, chosen={}, declined=declined).insertion.put_in == ()


def test_nor_is_one_that_nobody_signed(chair: Chair) -> None:
    with pytest.raises(RefusedError, match="isn't confirmed"):
        chair.insert(chair.saved(confirmed_by=" "))


@pytest.mark.parametrize("talk", [{}, {"age": {"at_least_years": 17, "identity_checked": True}}])
def test_age_and_consent_are_met_first(chair: Chair, talk: dict[str, object]) -> None:
    with pytest.raises(RefusedError, match="age and consent aren't met"):
        chair.insert(chair.saved(talk=talk))
    assert chair.counts() == {"1": 3, "2": 1}


def test_what_the_studio_asks_now_counts(chair: Chair) -> None:
    revision = chair.saved()
    studio.set_age_rules(chair.file, chair.alex, AgeRules(21, 21))
    with pytest.raises(RefusedError, match="age and consent"):
        chair.insert(revision)


def test_nothing_is_recorded_that_is_still_to_come(chair: Chair) -> None:
    revision = chair.saved()
    with pytest.raises(RefusedError, match="still to come"):
        chair.insert(revision, at=revision.created_at.astimezone() + timedelta(days=1))
    with pytest.raises(RefusedError, match="made after that day"):
        chair.insert(revision, at=revision.created_at.astimezone() - timedelta(days=1))


@pytest.mark.parametrize("who", ["sam", "nobody", "left"])
def test_only_a_piercer_records_one(chair: Chair, who: str) -> None:
    revision = chair.saved()
    by = {"sam": chair.sam, "nobody": None, "left": chair.kim}[who]
    if who == "left":
        chair.file.people.change(chair.kim, active=False)
    what = Happened(revision.created_at.astimezone(), ALEX, {"1": "1"})
    with pytest.raises(NotAllowedError):
        record_insertion(chair.file, by, revision.id, what, "token")
    assert sittings(chair.file, chair.client) == []


@pytest.mark.parametrize("name", [SAM, "", "Somebody Else"])
def test_only_a_piercer_pierced(chair: Chair, name: str) -> None:
    with pytest.raises(NotAllowedError, match="isn't a piercer here"):
        chair.insert(chair.saved(), pierced_by=name)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"dots_anew": True}, "dots drawn anew"),
        ({"changed": True}, "tissue changed"),
        ({"days": 1}, "measure again: old"),
    ],
)
def test_an_assessment_that_asks_to_be_measured_again_wants_a_reason(
    chair: Chair, changes: dict[str, Any], said: str
) -> None:
    now = chair.file.clock().astimezone()
    days = timedelta(days=changes.get("days", 0))
    changes = {name: value for name, value in changes.items() if name != "days"}
    revision, at = chair.saved(created_at=now - days), now + timedelta(seconds=1)
    with pytest.raises(RefusedError, match=said):
        chair.insert(revision, at=at, **changes)
    kept = chair.insert(revision, at=at, because="measured with calipers again", **changes)
    assert any(said in each or each in said for each in kept.insertion.in_spite_of)


def test_nothing_goes_in_that_is_not_there(chair: Chair) -> None:
    revision = chair.saved()
    with pytest.raises(RefusedError, match="none left"):
        chair.insert(revision, chosen={"1": "2", "2": "2"})
    with pytest.raises(RefusedError, match="nothing in stock"):
        chair.insert(revision, chosen={"1": "99"})
    with pytest.raises(RefusedError, match="isn't in revision 1"):
        chair.insert(revision, chosen={"9": "1"})


def test_the_photo_right_after_belongs_to_it(chair: Chair) -> None:
    made = chair.insert(chair.saved())
    assert made.lacks_baseline
    photo = chair.file.add_photo(chair.client, noise(1, 16), "after.jpg", "left").sha256
    record_baseline(chair.file, chair.sam, chair.client, made.number, (photo,), "photo")
    (read,) = sittings(chair.file, chair.client)
    assert read.baseline == (photo,)
    assert not read.lacks_baseline
    with pytest.raises(RefusedError, match="isn't in this client's file"):
        record_baseline(chair.file, chair.sam, chair.client, 9, (photo,), "other")
    with pytest.raises(RefusedError, match="no photo"):
        record_baseline(chair.file, chair.sam, chair.client, made.number, (), "other")


def test_not_here_is_kept_by_a_piercer(chair: Chair) -> None:
    said = NotHere(date(2031, 5, 4), KIM, ("soft tissue",), ("the lobe",), "felt it", "1")
    with pytest.raises(NotAllowedError):
        record_not_here(chair.file, chair.sam, chair.client, "left", said, "token")
    record = record_not_here(chair.file, chair.kim, chair.client, "left", said, "token")
    assert not_here_of(record) == said
    assert record.document["side"] == "left"


def test_they_come_along_to_another_file(chair: Chair, tmp_path: Path) -> None:
    made = chair.insert(chair.saved())
    photo = chair.file.add_photo(chair.client, noise(1, 16), "after.jpg", "left").sha256
    record_baseline(chair.file, chair.sam, chair.client, made.number, (photo,), "photo")
    export_client(chair.file, chair.client, tmp_path / "out")
    with ClientFile.open(tmp_path / "other") as other:
        brought = import_client(other, tmp_path / "out")
        assert sittings(other, brought.id) == sittings(chair.file, chair.client)
        (revision,) = other.revisions(brought.id)
        assert sittings(other, brought.id)[0].revision == revision.number


def test_a_wish_is_kept_and_the_newest_counts(chair: Chair) -> None:
    assert wish_of(chair.file, chair.client) == ""
    record_wish(chair.file, chair.sam, chair.client, " a ring ", "one")
    assert wish_of(chair.file, chair.client) == "a ring"
    record_wish(chair.file, chair.kim, chair.client, "", "two")
    assert wish_of(chair.file, chair.client) == ""
    with pytest.raises(NotAllowedError):
        record_wish(chair.file, None, chair.client, "a ring", "three")


# Stock


def test_stock_is_kept_in_versions(chair: Chair) -> None:
    receive(chair.file, chair.kim, replace(ITEM, count=2), "third")
    receive(chair.file, chair.kim, replace(ITEM, count=2), "third")
    assert chair.counts() == {"1": 5, "2": 1}
    receive(chair.file, chair.kim, replace(ITEM, batch="B-13"), "fourth")
    assert chair.counts() == {"1": 5, "2": 1, "3": 3}
    count_anew(chair.file, chair.kim, "3", 2, "one fell", "fifth")
    words = [record.document["change"] for record in chair.file.records("stock")]
    assert words == [
        "no. 3: 2, not 3: one fell",
        "received 3 of no. 3",
        "received 2 of no. 1",
        "received 1 of no. 2",
        "received 3 of no. 1",
    ]


def test_who_may_not_change_it(chair: Chair) -> None:
    for by in (chair.sam, None):
        with pytest.raises(NotAllowedError):
            receive(chair.file, by, ITEM, "x")
        with pytest.raises(NotAllowedError):
            count_anew(chair.file, by, "1", 9, "because", "x")
    with pytest.raises(RefusedError, match="say why"):
        count_anew(chair.file, chair.kim, "1", 9, " ", "x")
    assert chair.counts() == {"1": 3, "2": 1}


def test_a_new_draft_measures_with_what_is_there(chair: Chair) -> None:
    number, posts = offered(chair.file, datetime.now().astimezone().date())
    assert [(p.gauge_mm, p.lengths_mm) for p in posts] == [(1.2, (9.525, 11.1125))]
    draft = draft_of(chair.file, chair.client, "left")
    assert draft["posts"] == [{"gauge_mm": 1.2, "lengths_mm": [9.525, 11.1125]}]
    assert draft["x_stock"] == number
    count_anew(chair.file, chair.kim, "2", 0, "none left", "x")
    assert draft_of(chair.file, chair.client, "left")["posts"] == [
        {"gauge_mm": 1.2, "lengths_mm": [9.525]}
    ]
