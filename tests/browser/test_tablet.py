"""At a tablet held wide: the number stays in sight with the photo, and nothing typed is lost."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rimspan.clientfile import ClientFile
from rimspan.demo.client import fill_client_file
from rimspan.demo.lay_out import samples

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

ROOT = Path(__file__).resolve().parents[2]
WIDTH, HEIGHT = 1024, 768
LEAST_PX = 44
"""A target's least height and width for a finger (WCAG 2.2, 2.5.5)."""

READ_MS = 90_000
"""Five photos are read before their marks are shown."""

COVERED = """(aim, [x, y]) => { let seen = document.elementFromPoint(x, y);
  while (seen && seen.shadowRoot) seen = seen.shadowRoot.elementFromPoint(x, y);
  return !(aim.contains(seen) || seen.contains(aim)); }"""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    store = tmp_path_factory.mktemp("studio") / "store"
    with ClientFile.open(store) as file:
        fill_client_file(file, samples())
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


@pytest.fixture
def marks_of(studio: tuple[str, Path], open_page: Any) -> Callable[[str], tuple[Page, str]]:
    """Return ``marks_of(letter)``: the Marks page of a demo client, and the client's id."""
    url, store = studio

    def visit(letter: str) -> tuple[Page, str]:
        with ClientFile.open(store) as file:
            (client,) = [c for c in file.clients() if c.name.startswith(f"Demo client {letter}")]
            side = "left" if file.draft(client.id, "left") else "right"
        address = f"{url}/marks?client={client.id}&side={side}"
        page = open_page(address, width=WIDTH, height=HEIGHT, touch=True)
        page.set_default_timeout(READ_MS)
        page.locator(".marking[data-painted]").wait_for()
        page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")
        return page, client.id

    return visit


def in_sight(aim: Locator) -> dict[str, float]:
    """Return where something is, wholly in the window and with nothing over its middle."""
    frame = aim.bounding_box()
    assert frame is not None
    assert frame["y"] >= 0
    assert frame["y"] + frame["height"] <= HEIGHT
    middle = [frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2]
    assert not aim.evaluate(COVERED, middle), f"covered: {aim}"
    return dict(frame)


@pytest.mark.parametrize(("letter", "photos"), [("B", 1), ("A", 5)])
def test_the_number_stands_under_the_photo_without_a_swipe(
    marks_of: Any, letter: str, photos: int
) -> None:
    page, _ = marks_of(letter)
    assert page.get_by_role("radio", name=".jpg").count() in {photos, 0}
    number = in_sight(page.locator(".rim-live").first)
    photo = in_sight(page.locator(".marking [data-part=box]"))
    assert photo["y"] + photo["height"] <= number["y"]
    assert photo["height"] >= HEIGHT / 2
    page.get_by_role("button", name="Mark again", exact=True).wait_for()
    rail = page.locator(".marking .bench").locator("button:visible, summary:visible")
    assert rail.count() > 12
    onward = page.get_by_role("link", name="Go on to answer and sign")
    for aim in [*rail.all(), page.get_by_role("link", name="Hands and calipers"), onward]:
        frame = in_sight(aim)
        assert min(frame["width"], frame["height"]) >= LEAST_PX


def fold_depth(studio: tuple[str, Path], client: str) -> float | None:
    with ClientFile.open(studio[1]) as file:
        draft = file.draft(client, "left") or {}
    return next((read.get("fold_depth_mm") for read in draft["caliper"].values()), None)


@pytest.mark.parametrize("way", ["Go on to answer and sign", "Answer", "Timeline"])
@pytest.mark.parametrize("hand", ["finger", "mouse"])
def test_what_was_typed_goes_before_its_page(
    studio: Any, marks_of: Any, way: str, hand: str
) -> None:
    """A tap on any way out, at once after the last digit and without Enter."""
    page, client = marks_of("B")
    typed = 6.5 + len(way) / 100 + len(hand) / 1000
    page.get_by_label("Fold depth, not pressed (mm)", exact=True).fill(f"{typed:.3f}")
    link = page.get_by_role("link", name=re.compile(f"^{way}")).first
    link.scroll_into_view_if_needed()
    frame = in_sight(link)
    place = frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2
    if hand == "finger":
        page.touchscreen.tap(*place)
    else:
        page.mouse.click(*place)
    wanted = {"Go": "/sign", "An": "/answer", "Ti": "/timeline"}[way[:2]]
    page.wait_for_function("way => location.pathname === way", arg=wanted)
    end = time.monotonic() + 15.0
    while fold_depth(studio, client) != pytest.approx(typed):
        assert time.monotonic() < end, "the number never arrived"
        time.sleep(0.05)
    page.locator(".rim-says, h1").first.wait_for()  # the marks have neither
    assert page.evaluate("() => location.pathname") == wanted  # and nothing called the page back


def test_enter_goes_to_the_field_beside_and_a_field_left_as_it_was_holds_nobody_up(
    marks_of: Any,
) -> None:
    page, _ = marks_of("B")
    relief = page.get_by_label("Relief, by depth rod (mm)", exact=True)
    page.get_by_label("Fold depth, not pressed (mm)", exact=True).press("Enter")
    page.wait_for_function("field => document.activeElement === field", arg=relief.element_handle())
    page.get_by_role("link", name="Go on to answer and sign").tap()
    page.wait_for_function("() => location.pathname === '/sign'")
