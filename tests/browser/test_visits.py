"""Visits after a piercing in a browser, in a scenario of our own: all people are invented.

Robin comes after five weeks for the shorter post; Kim's end sinks in, and a longer one goes in the
same day; nothing moved on Sasha's ear.  One server for all; what went in before is put into the
client file by its own verbs.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from assess.visit_record import WornNow
from rimspan.clientfile import ClientFile
from rimspan.stock_keeping import stock_of
from rimspan.visits import visits_of
from tests.browser.conftest import ALEX, settle, staff
from tests.browser.visit_scenes import POSTS, WEEKS, photographed_after, pierced
from tests.second_visit import Shot, shot

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
TABLET = {"width": 1024, "height": 768, "touch": True}

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """Return where the screens are served, and their store."""
    store = tmp_path_factory.mktemp("visits") / "store"
    staff(str(store))
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


class Chair:
    """A tablet at the chair with a client's timeline open."""

    def __init__(self, page: Page, url: str, client: str) -> None:
        self.page = page
        page.goto(f"{url}/timeline?client={client}")
        page.get_by_role("heading", name=re.compile("^Timeline of")).wait_for()
        self.rests()

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def tap(self, words: str, role: Any = "button") -> None:
        self.page.get_by_role(role, name=words, exact=True).click()
        self.rests()

    def begin(self) -> None:
        settle(self.page)
        self.page.get_by_text(re.compile("^After the piercing")).click()
        settle(self.page)  # what is drawn anew swallows the tap
        self.tap("A visit")
        self.page.get_by_role("heading", name=re.compile("^Visit of")).wait_for()
        self.rests()

    def sees(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def choose(self, post: str) -> None:
        settle(self.page)
        field = self.page.get_by_role("combobox", name="Which post is in now")
        field.click()
        wanted = self.page.get_by_role("option").filter(has_text=post)
        if not wanted.count():
            field.press("ArrowDown")  # a list that shut again as the page moved under the finger
        wanted.click()
        self.rests()

    def decide(self) -> None:
        self.page.get_by_text("I saw this ear myself, and I decide.").click()
        self.rests()


def test_a_downsizing_visit(studio: tuple[str, Path], open_page: Any) -> None:
    url, store = studio
    client = pierced(store, "Robin Example (invented)")
    chair = Chair(open_page(url, **TABLET), url, client)
    chair.begin()
    chair.sees("In now: 1.2 mm thick, 9.53 mm (3/8 in) long, lot L-INVENTED.")
    chair.tap("A shorter post", "radio")
    chair.choose("7.94 mm (5/16 in)")
    chair.tap("Keep the visit")
    chair.sees("Say that you saw this ear yourself and decide.")
    chair.decide()
    chair.tap("Keep the visit")
    chair.sees("Visit 1 is kept.")
    with ClientFile.open(store) as file:
        (kept,) = visits_of(file, client)
        assert (kept.visit.done, kept.recorded_by) == ("shorten", ALEX)
        assert kept.visit.after == WornNow(1.2, 7.9375, "3", "L-INVENTED", "B-1")
        assert (kept.visit.on - kept.visit.pierced_on).days == 7 * WEEKS
        left = {item.key: item.count for item in stock_of(file).stock.items}
    assert left["3"] == POSTS - 1


def test_a_sinking_end(studio: tuple[str, Path], open_page: Any) -> None:
    url, store = studio
    client = pierced(store, "Kim Example (invented)")
    chair = Chair(open_page(url, **TABLET), url, client)
    chair.begin()
    chair.tap("An end sinks in")
    chair.sees("A longer post the same day, before anything else")
    chair.tap("A shorter post", "radio")
    chair.sees("Against it: an end sinks in")
    chair.decide()
    chair.tap("A longer post", "radio")
    chair.choose("11.11 mm (7/16 in)")
    chair.tap("Keep the visit")
    chair.sees("Visit 1 is kept.")
    chair.page.get_by_text(re.compile("^After the piercing")).click()
    chair.sees("Seen first: an end sinks in.")
    with ClientFile.open(store) as file:
        (kept,) = visits_of(file, client)
    assert (kept.visit.done, kept.visit.signs) == ("lengthen", ("sinking",))
    assert kept.visit.next_check is not None
    assert (kept.visit.next_check.days.first - kept.visit.on).days == 2


class Marking:
    """The marking on the Visit page, and a hand that taps where a photo's pixel is."""

    def __init__(self, page: Page, photo: str) -> None:
        from playwright.sync_api import expect

        self.page = page
        page.locator(f'.marking[data-painted="{photo}"]').wait_for()
        expect(page.locator(".marking")).to_have_count(1)  # the one before is gone
        self.box = page.locator(".marking [data-part=box]")
        self.box.scroll_into_view_if_needed()

    def button(self, name: str) -> None:
        self.page.locator(f'.marking button[data-name="{name}"]').click()

    def tap(self, point: Any) -> None:
        at = self.page.locator(".marking").evaluate(
            """(root, [x, y]) => {
              const { view } = root.getRootNode().rimspanMarking;
              return [view.x + (x + 0.5) * view.scale, view.y + (y + 0.5) * view.scale];
            }""",
            [float(v) for v in point],
        )
        self.box.click(position={"x": at[0], "y": at[1]})

    def mark(self, taken: Shot) -> None:
        """Tap the outer rim and accept its line, then both ends and where the skin begins."""
        self.button("outer_rim")
        for point in taken.outer[[3, 12, 22, 32, 42]]:
            self.tap(point)
        self.button("accept")
        places = zip(
            ("entry_end", "exit_end", "entry", "exit"), [*taken.ends, *taken.skin], strict=True
        )
        for name, point in places:
            self.button(name)
            self.tap(point)


def test_a_recheck_with_no_measurable_change(studio: tuple[str, Path], open_page: Any) -> None:
    url, store = studio
    client = pierced(store, "Sasha Example (invented)")
    photographed_after(store, client)
    chair = Chair(open_page(url, **TABLET), url, client)
    chair.begin()
    chair.sees("right after the insertion")
    today = shot(again=True)
    chair.page.locator("input[type=file]").first.set_input_files(
        {"name": "today.jpg", "mimeType": "image/jpeg", "buffer": today.data}
    )
    Marking(chair.page, "today.jpg").mark(today)
    chair.sees("Mark the baseline's photo too")
    chair.tap("Baseline: after.jpg", "radio")
    Marking(chair.page, "after.jpg").mark(shot())
    chair.sees("Tilt of 1: no measurable change")
    chair.sees("End at the entry of 1: no measurable change")
    chair.sees("End at the exit of 1: no measurable change")
    chair.rests()
    chair.tap("The same post stays", "radio")
    chair.decide()
    chair.tap("Keep the visit")
    chair.sees("Visit 1 is kept.")
    with ClientFile.open(store) as file:
        (kept,) = visits_of(file, client)
    assert kept.visit.recheck is not None
    assert kept.visit.recheck.baseline is not None
    assert kept.visit.recheck.baseline.marked_by == ALEX
    assert {point.followed for point in kept.visit.recheck.points} >= {"tilt", "entry", "exit"}
