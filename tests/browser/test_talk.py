"""The talk in a browser, in three whole consultations of a scenario of our own, all invented.

Robin goes ahead; Kim has a swimming holiday and waits; Sam is sixteen and alone, and the core
refuses.  One server for all; photos and readings are put into the drafts by the core.
"""

from __future__ import annotations

import json
import re
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
from icalendar import Calendar

from assess.talk.questions import QUESTIONS
from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document, with_photo
from tests.browser.conftest import settle
from tests.rimspan.conftest import card_photo, flat_marks

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
TABLET = {"width": 1024, "height": 768, "touch": True}
NOTHING = {question.id: question.answers[0].id for question in QUESTIONS}
LEAST_PX = 44
"""A target's least height for a finger (WCAG 2.2, 2.5.5)."""
BERLIN = ZoneInfo("Europe/Berlin")
"""The studio's own zone."""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


class Chair:
    """A tablet at the chair, and how often it was tapped."""

    def __init__(self, page: Page, store: Path, client: str) -> None:
        self.page, self.store, self.client, self.taps = page, store, client, 0

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def tap(self, words: str) -> None:
        """Tap what begins with these words, and wait until the page is drawn anew."""
        self.tap_fast(words)
        self.rests()

    def tap_fast(self, words: str) -> None:
        """Tap what begins with these words, which is large enough for a thumb."""
        wanted = re.compile(f"^{re.escape(words)}")
        buttons = self.page.get_by_role("button", name=wanted)
        aim = buttons.or_(self.page.get_by_role("radio", name=wanted)).first
        box = aim.bounding_box()
        assert box is not None
        assert box["height"] >= LEAST_PX, words
        aim.click()
        self.taps += 1

    def tick(self, words: str) -> None:
        self.page.get_by_text(words, exact=True).click()
        self.taps += 1
        self.rests()

    def sees(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def go(self, station: str) -> None:
        self.rests()
        self.page.get_by_role("link", name=re.compile(f"^{station}")).first.click()
        self.page.get_by_role("heading", name=station, level=1).wait_for()
        self.rests()

    def asks(self, question: str) -> None:
        self.page.get_by_role("heading", name=question).wait_for()
        self.rests()

    def answer(self, given: dict[str, str]) -> None:
        """Tap one answer to every question that is left, as each comes up by itself."""
        for question in QUESTIONS:
            if question.id in given:
                self.asks(question.text)
                self.tap(question.answer(given[question.id]).text)

    def draft(self) -> dict[str, Any]:
        with ClientFile.open(self.store) as file:
            return file.draft(self.client, "left") or {}

    def kept(self, name: str) -> None:
        """Wait until the draft holds something of the talk, and the page is drawn anew."""
        end = time.monotonic() + 15.0
        while not self.draft().get("x_talk", {}).get(name):
            assert time.monotonic() < end, f"{name} wasn't kept"
            time.sleep(0.05)
        self.rests()

    def save(self, decided: str, *, slowly: bool = False) -> None:
        self.go("Sign")
        self.tap_fast(decided)  # the tick follows at once, and must not be lost
        if slowly:
            settle(self.page)
        self.page.get_by_text("I examined this ear myself, and I decide.").click()
        self.kept("decided")
        self.rests()
        self.tap("Save the assessment")

    def saved(self) -> list[Any]:
        with ClientFile.open(self.store) as file:
            return file.revisions(self.client)

    def download(self, name: str) -> bytes:
        settle(self.page)
        with self.page.expect_download() as found:
            self.page.get_by_role("button", name=name).click()
        return Path(found.value.path()).read_bytes()


def marked(sha256: str) -> dict[str, Any]:
    """Return the draft of a flat card's photo, marked: a channel of 7 mm by construction."""
    marks = flat_marks()
    drawn = {name: held for name, held in marks["photos"][0].items() if name != "file"}
    draft = with_photo(new_document("left"), "flat.jpg", sha256)
    draft["photos"][0] |= drawn
    return draft | {name: marks[name] for name in ("rim_plane", "examined")}


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    store, photo = tmp_path_factory.mktemp("talk") / "store", card_photo()
    with ClientFile.open(store) as file:
        file.settings.set("clock", {"zone": str(BERLIN)})
        for name in ("Robin Example", "Kim Example", "Sam Example"):
            client = file.create_client(name).id
            kept = file.add_photo(client, photo, "flat.jpg", "left")
            file.save_draft(client, "left", marked(kept.sha256))
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


@pytest.fixture
def sit(studio: tuple[str, Path], open_page: Any) -> Any:
    """Return ``sit(name) -> Chair``: the Talk page of a client's left ear."""
    url, store = studio

    def opened(name: str) -> Chair:
        with ClientFile.open(store) as file:
            (client,) = [c.id for c in file.clients() if c.name == name]
        page = open_page(f"{url}/talk?client={client}&side=left", **TABLET)
        chair = Chair(page, store, client)
        page.get_by_role("heading", name="Talk", level=1).wait_for()
        chair.rests()
        return chair

    return opened


def words_of(pdf: bytes) -> str:
    pages = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


def of_age(chair: Chair) -> None:
    chair.tap("18 or older")
    chair.tick("I looked at the client's identity paper")
    chair.sees("Age and consent are met.")
    chair.tap("On to: Questions")


def test_it_goes_ahead(sit: Any) -> None:
    chair = sit("Robin Example")
    of_age(chair)
    first = dict(list(NOTHING.items())[:3])
    chair.answer(first)
    # Leaving and coming back, and a reload, lose nothing; one goes on where one was.
    chair.go("Photos")
    chair.go("Talk")
    chair.asks(QUESTIONS[3].text)
    chair.page.reload()
    chair.answer({name: given for name, given in NOTHING.items() if name not in first})
    chair.sees("Every question is answered.")
    chair.sees("Go on.")
    # Two for age and consent, one to go on, one for each question.
    assert chair.taps == 3 + len(QUESTIONS)
    kept = chair.draft()["x_talk"]["answers"]
    assert {name: given["answers"] for name, given in kept.items()} == {
        name: [given] for name, given in NOTHING.items()
    }
    chair.tap("On to: Days")
    chair.sees("Shorter post")
    look = datetime.now(BERLIN).date() + timedelta(weeks=2)
    chair.tap("Agree a time: First look")
    chair.tap(f"{look:%a} {look.day} {look:%b}")
    chair.tap("14:30")
    chair.kept("times")
    chair.sees("Change the time: First look")

    chair.save("goes ahead")
    chair.sees("Saved as revision 1.")
    (revision,) = chair.saved()
    assert revision.saved.talk["decided"] == "goes_ahead"
    assert revision.saved.talk["answers"] == kept
    assert "x_talk" not in revision.marks
    calendar = Calendar.from_ical(chair.download("Visits for a calendar"))
    begins = [event["dtstart"].dt for event in calendar.walk("VEVENT")]
    day = revision.created_at.astimezone(BERLIN).date()
    assert begins[0] == day
    assert datetime.combine(look, datetime.min.time(), BERLIN).replace(hour=14, minute=30) in begins
    assert day + timedelta(weeks=4) in begins  # the shorter post, at the earliest
    chair.tap("Deutsch")
    chair.tap("Letter")
    sheet = words_of(chair.download("Download the client's sheet"))
    assert "Natriumchlorid" in sheet
    assert f"Erster Blick: {look.day}. " in sheet
    assert "14:30" in sheet
    # Ticks in the chair come after saving, too, and change nothing that was saved.
    chair.go("Talk")
    chair.tap("In the chair")
    chair.tick("Change gloves that touched screen, phone or calipers.")
    chair.go("Sign")
    chair.sees("Saved as revision 1.")
    assert chair.draft()["x_talk"]["chair"] == ["chair.gloves"]


def test_it_waits_for_a_swimming_holiday(sit: Any) -> None:
    chair = sit("Kim Example")
    of_age(chair)
    chair.asks(QUESTIONS[0].text)
    chair.tap("Swimming: pool, lake or sea")
    first, last = (datetime.now(BERLIN).date() + timedelta(days=n) for n in (20, 34))
    for label, day in (("First day", first), ("Last day", last)):
        chair.page.get_by_role("spinbutton", name=f"day, {label}").click()
        chair.page.keyboard.type(f"{day:%d%m%Y}")
        chair.page.keyboard.press("Tab")
        chair.rests()
    chair.tap("Add these days")
    until = last + timedelta(days=1)
    said = f"We wait until {until.day} {until:%B %Y}."
    chair.sees(said)
    chair.tap("Next")
    chair.answer({name: given for name, given in NOTHING.items() if name != "ask.trip"})
    chair.sees("That water isn't yours to keep clean.")  # the reason stands beside the outcome
    chair.tap("Days")
    chair.sees("comes too early")
    chair.save("waits")
    chair.sees("Saved as revision 1.")
    sheet = words_of(chair.download("Download the client's sheet"))
    assert said in sheet
    assert "It is better to wait until the swimming is over." in sheet
    (revision,) = chair.saved()
    (trip,) = json.loads(json.dumps(dict(revision.saved.talk)))["trips"]
    assert trip == {"name": "ask.trip.swim", "first": first.isoformat(), "last": last.isoformat()}


def test_a_minor_without_a_guardian_is_refused(sit: Any) -> None:
    chair = sit("Sam Example")
    chair.tap("16 to 17")
    chair.tick("I looked at the client's identity paper")
    chair.sees("A guardian must be present; make an appointment with one.")
    chair.tap("On to: Questions")
    chair.answer(NOTHING)
    chair.save("goes ahead", slowly=True)
    chair.sees("Nothing was saved.")
    chair.sees("Age and consent aren't met. A guardian must be present")
    assert chair.saved() == []
