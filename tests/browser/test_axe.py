"""No WCAG 2.2 A or AA rule that axe-core can check is broken: every page, light and dark, any size.

The pages come from the navigation, so a new page is checked without a word here.  No rule, no
page and no widget is left out.  What axe-core can't decide (it says "incomplete") is not counted:
the words in our drawings, which are in the page's own ink, and Streamlit's tags of a choice.
"""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rimspan.clientfile import ClientFile, Role
from rimspan.screens.navigation import HOME, TITLES
from rimspan.screens.talk_words import DAYS, PARTS
from tests.browser.conftest import ALEX, APPRENTICE, PASSWORD, sign_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, CDPSession, Page

if importlib.util.find_spec("axe_playwright_python") is None:
    pytest.skip("needs the extra 'test' (axe-playwright-python)", allow_module_level=True)

ROOT = Path(__file__).resolve().parents[2]

RULES = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"],
    "rules": {"target-size": {"enabled": True}},  # off unless asked for
    "resultTypes": ["violations"],
}
SIZES = {
    "desktop": {"width": 1440, "height": 900, "touch": False},
    "tablet": {"width": 1024, "height": 768, "touch": True},
    "phone": {"width": 390, "height": 844, "touch": True},
}
SCHEMES = ("light", "dark")
EVERYWHERE = tuple((scheme, size) for scheme in SCHEMES for size in SIZES)
AT_THE_CHAIR = tuple((scheme, "tablet") for scheme in SCHEMES)

UNROLLED = """
.stApp, .stApp :has([data-testid="stMain"]), [data-testid="stMain"] { position: static !important;
  overflow: visible !important; height: auto !important; inset: auto !important; }
[data-testid="stLayoutWrapper"]:has(> .st-key-live, > [class*="st-key-onward"]) {
  position: static !important; }
"""
"""The page at its whole length: axe-core says nothing of what is scrolled out of sight."""

FAULTS = """
<img src="/nothing.png">
<p style="color: #999; background: #fff">Too pale.</p>
<div style="display: flex"><button style="all: unset; width: 9px; height: 9px">a</button><button
style="all: unset; width: 9px; height: 9px">b</button></div>
"""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


class Desk:
    """One page of one browser, whose size, touch and colours are changed as it stands open."""

    def __init__(self, page: Page, devices: CDPSession, url: str, store: Path) -> None:
        self.page, self.devices, self.url, self.store = page, devices, url, store
        self.at_the_door: list[str] = []
        self.on_arrival: list[str] = []

    def client(self, begins: str) -> str:
        with ClientFile.open(self.store) as file:
            (found,) = [c.id for c in file.clients() if c.name.startswith(begins)]
        return found

    def settled(self, name: str) -> None:
        """Wait until a page is drawn; its title is set as its run begins."""
        self.page.wait_for_function(
            "title => document.title === title", arg=f"{TITLES[name]} · Rimspan"
        )
        self.rests()
        if name == "marks":
            self.page.locator(".marking[data-painted]").wait_for()
        if name == "plan":
            self.page.locator(".planning[data-painted]").wait_for()

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def go(self, name: str) -> None:
        """Open a page by its link where there is one, which is quicker, else by its address."""
        link = self.page.locator(f'a[href$="/{"" if name == HOME else name}"]')
        if link.count():
            link.first.click()
        else:
            self.visit(name, "Demo client A", "left")
        self.settled(name)

    def visit(self, name: str, begins: str, side: str) -> None:
        """Open a page of a client by its address."""
        place = "" if name == HOME else name
        self.page.goto(f"{self.url}/{place}?client={self.client(begins)}&side={side}")
        self.settled(name)

    def unfold(self) -> None:
        """Open whatever is folded."""
        folded = self.page.locator('[data-testid="stExpander"] details:not([open]) > summary')
        while folded.count():
            count = folded.count()
            folded.last.click()
            self.page.wait_for_function(
                """count => document.querySelectorAll(
                '[data-testid="stExpander"] details:not([open])').length < count""",
                arg=count,
            )
        self.rests()

    def look(self, scheme: Any, size: str) -> None:
        """Change the colours and the size, and wait until both are drawn."""
        box = SIZES[size]
        self.page.emulate_media(color_scheme=scheme)
        self.page.set_viewport_size({"width": box["width"], "height": box["height"]})
        self.devices.send(
            "Emulation.setTouchEmulationEnabled",
            {"enabled": bool(box["touch"]), "maxTouchPoints": 5 if box["touch"] else 1},
        )
        self.page.wait_for_function(
            """dark => {
                const ground = getComputedStyle(document.querySelector('.stApp')).backgroundColor;
                return dark === (parseInt(ground.match(/\\d+/)[0]) < 128);
            }""",
            arg=scheme == "dark",
        )
        self.page.evaluate(
            """() => new Promise(done =>
            requestAnimationFrame(() => requestAnimationFrame(done)))"""
        )
        self.page.wait_for_function(  # what is seen fades from one scheme's colour to the other's
            """() => !document.getAnimations().some(
            each => each instanceof CSSTransition && each.effect.target.checkVisibility())"""
        )

    def broken(self) -> list[str]:
        """Return every rule that is broken, with where and how."""
        if not self.page.evaluate("'axe' in window"):
            script = resources.files("axe_playwright_python").joinpath("axe.min.js")
            self.page.evaluate(script.read_text("utf-8"))
        found = self.page.evaluate("rules => axe.run(document, rules)", RULES)
        return [
            f"{fault['id']} at {node['target']}: {node['failureSummary']}"
            for fault in found["violations"]
            for node in fault["nodes"]
        ]

    def unrolled(self) -> None:
        if not self.page.locator("#unrolled").count():
            self.page.evaluate(
                """css => document.head.append(Object.assign(
                document.createElement('style'), { id: 'unrolled', textContent: css }))""",
                UNROLLED,
            )

    def rolled(self) -> None:
        self.page.evaluate("document.getElementById('unrolled')?.remove()")

    def examine(self, looks: tuple[tuple[str, str], ...]) -> list[str]:
        """Return what is broken, first as the page stands, then at its whole length."""
        self.look(*looks[0])
        found = [f"{looks[0]}, as it stands: {fault}" for fault in self.broken()]
        self.unrolled()
        for look in looks:
            self.look(*look)
            found += [f"{look}: {fault}" for fault in self.broken()]
        self.rolled()
        return found


@pytest.fixture(scope="module")
def desk(serve: Any, browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """Return the desk with the demo client open; the first sight of it was examined before."""
    store = tmp_path_factory.mktemp("axe") / "store"
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.set_default_timeout(60_000)
    page.goto(url)
    desk = Desk(page, context.new_cdp_session(page), url, store)
    page.get_by_role("button", name="Sign in").wait_for()
    desk.rests()
    desk.at_the_door = desk.examine(AT_THE_CHAIR)
    sign_in(context, url)
    page.goto(url)
    desk.settled(HOME)
    desk.on_arrival = desk.examine(AT_THE_CHAIR)
    page.get_by_role("button", name="Open the demo client").click()
    desk.settled("timeline")
    yield desk
    context.close()


def test_the_sign_in(desk: Desk) -> None:
    assert desk.at_the_door == []


def test_the_first_manager_and_a_locked_screen(
    serve: Any, browser: Browser, tmp_path: Path
) -> None:
    store = tmp_path / "store"
    with ClientFile.open(store) as file:
        file.people.add(APPRENTICE, Role.APPRENTICE, PASSWORD)
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.goto(url)
    desk = Desk(page, context.new_cdp_session(page), url, store)
    page.get_by_role("heading", name="The first manager").wait_for()
    desk.rests()
    assert desk.examine(EVERYWHERE) == []
    with ClientFile.open(store) as file:
        file.people.add(ALEX, Role.MANAGER, PASSWORD)
        file.settings.set("idle", {"minutes": 0.0})
    sign_in(context, url)
    page.goto(url)
    page.get_by_role("heading", name="Locked").wait_for()
    desk.rests()
    assert desk.examine(EVERYWHERE) == []
    context.close()


def test_the_first_sight_of_the_program(desk: Desk) -> None:
    assert desk.on_arrival == []


@pytest.mark.parametrize("name", TITLES)
def test_a_page(desk: Desk, name: str) -> None:
    desk.go(name)
    desk.unfold()
    assert desk.examine(EVERYWHERE) == []


def test_a_saved_assessment_opened_again(desk: Desk) -> None:
    desk.go("timeline")
    desk.page.get_by_role("button", name="Open again").click()
    desk.page.get_by_text("The marks as they were saved.").wait_for()
    desk.unfold()
    assert desk.examine(AT_THE_CHAIR) == []


def test_a_visit_with_everything_that_can_open(desk: Desk) -> None:
    desk.go("timeline")
    desk.unfold()
    desk.page.get_by_role("button", name="A visit", exact=True).first.click()
    desk.settled("visit")
    for sign in ("An end sinks in", "Pus", "bump"):
        desk.page.get_by_role("button", name=sign, exact=True).click()
        desk.rests()
    desk.page.get_by_role("radio", name="The same post stays").click()
    desk.page.get_by_role("button", name="Keep the visit").click()
    desk.page.get_by_text("Nothing was kept.").wait_for()
    assert desk.examine(EVERYWHERE) == []


@pytest.mark.parametrize("part", PARTS[1:])
def test_a_part_of_the_talk(desk: Desk, part: str) -> None:
    """The page opens at age and consent or where something is open; each part is looked at."""
    desk.visit("talk", "Demo client A", "left")
    desk.page.get_by_role("radio", name=part).click()
    desk.rests()
    if part == DAYS:
        desk.page.get_by_role("button", name="Agree a time: First look").click()
        desk.page.get_by_text("14:30", exact=True).wait_for()
    desk.unfold()
    assert desk.examine(EVERYWHERE) == []


def test_a_text_that_is_put_into_the_studio_s_words(desk: Desk) -> None:
    desk.visit("wording", "Demo client A", "left")
    desk.page.get_by_role("button", name=re.compile("^Change: ")).first.click()
    desk.page.get_by_role("textbox", name="The studio's words").wait_for()
    desk.rests()
    assert desk.examine(EVERYWHERE) == []


def test_a_question_before_a_draft_is_set_aside(desk: Desk) -> None:
    desk.go("client")
    desk.page.get_by_role("button", name="Begin this ear afresh").click()
    desk.page.get_by_role("button", name="Begin afresh", exact=True).wait_for()
    assert desk.examine(AT_THE_CHAIR) == []
    desk.page.keyboard.press("Escape")


def test_a_point_that_is_chosen_and_every_tool(desk: Desk) -> None:
    desk.go("marks")
    desk.page.locator(".marking summary").click()
    desk.page.locator(".marking [data-part=points] [data-id]").first.focus()
    desk.page.locator(".marking [data-part=said]", has_text="Chosen:").wait_for()
    assert desk.examine(AT_THE_CHAIR) == []


def test_a_plan_that_is_laid_out(desk: Desk) -> None:
    desk.go("plan")
    two = desk.page.get_by_role("radio", name="2", exact=True)
    two.or_(desk.page.get_by_role("button", name="2", exact=True)).first.click()
    desk.page.locator(".planning .post").nth(1).wait_for()
    desk.rests()
    desk.unfold()
    assert desk.examine(EVERYWHERE) == []


def test_a_signature_that_is_refused(desk: Desk) -> None:
    desk.visit("sign", "Demo client B", "left")
    desk.page.get_by_role("button", name="Save the assessment").click()
    desk.page.get_by_text("Nothing was saved.").wait_for()
    assert desk.examine(AT_THE_CHAIR) == []


def test_what_is_broken_is_found_inside_the_marking_too(desk: Desk) -> None:
    """The check can fail: faults put into the marking's shadow tree are all seen."""
    desk.visit("marks", "Demo client A", "left")
    desk.look("light", "tablet")
    desk.unrolled()
    desk.page.locator(".marking[data-painted]").evaluate(
        "(root, faults) => root.insertAdjacentHTML('beforeend', faults)", FAULTS
    )
    found = {fault.split(" ", 1)[0] for fault in desk.broken()}
    assert found == {"image-alt", "color-contrast", "target-size"}
