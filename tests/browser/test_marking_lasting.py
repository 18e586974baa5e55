"""No mark is lost: not by a reload, a lost connection, a killed server, or haste.

The screens as they are served, on a client file of their own; what counts is what its draft holds.
"""

from __future__ import annotations

import io
import json
import re
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from PIL import Image

from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document, with_photo
from tests.browser.conftest import ALEX, KIM, sign_in, staff
from tests.browser.marking_hand import Bench, off
from tests.browser.server import ROOT, free_port, launch, stop

if TYPE_CHECKING:
    from playwright.sync_api import Page, WebSocketRoute

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]

PHOTO = ROOT / "sample_images" / "pronounced" / "square-on.jpg"

LIMIT_S = 40

OpenPage = Callable[..., "Page"]


class Studio:
    """A client file, and a server on it that can be killed and started again."""

    def __init__(self, folder: Path) -> None:
        self.store = folder / "store"
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self._log = folder / "server.log"
        self._server: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        env = {"RIMSPAN_STORE": str(self.store)}
        self._server = launch(ROOT / "app.py", self.port, self._log, env)

    def kill(self) -> None:
        """End the server as a power cut would: it can't tidy up."""
        assert self._server is not None
        self._server.kill()
        self._server.wait(10)

    def stop(self) -> None:
        if self._server is not None:
            stop(self._server)

    def consult(self, data: bytes) -> str:
        """Return an invented client's id, with one photo to mark in."""
        with ClientFile.open(self.store) as file:
            client = file.create_client("Robin Example").id
            photo = file.add_photo(client, data, PHOTO.name, "left")
            file.save_draft(
                client, "left", with_photo(new_document("left"), PHOTO.name, photo.sha256)
            )
        return client

    def photo(self, client: str) -> dict[str, Any]:
        with ClientFile.open(self.store) as file:
            (photo,) = (file.draft(client, "left") or {})["photos"]
        return dict(photo)


class Line:
    """The connection between a page and the server, which can be cut."""

    def __init__(self, page: Page) -> None:
        self._whole = True
        self._ends: list[WebSocketRoute] = []
        page.route_web_socket(re.compile("/_stcore/stream"), self._join)

    def _join(self, end: WebSocketRoute) -> None:
        if self._whole:
            end.connect_to_server()
            self._ends.append(end)
        else:
            end.close()

    def cut(self) -> None:
        self._whole = False
        for end in self._ends:
            end.close()

    def mend(self) -> None:
        self._whole = True


class Ear:
    """The Marks page of a new client."""

    def __init__(self, studio: Studio, open_page: OpenPage, data: bytes) -> None:
        self.studio, self.client = studio, studio.consult(data)
        self.page = open_page("about:blank")
        sign_in(self.page.context, studio.url)
        self.line = Line(self.page)
        self.page.goto(f"{studio.url}/marks?client={self.client}&side=left")
        self.bench = Bench(self.page, 1)

    def rim(self) -> list[list[float]]:
        """Return the outer rim as the draft has it."""
        return list(self.studio.photo(self.client).get("outer_rim", []))

    def seen(self) -> list[list[float]]:
        """Return the outer rim as the page shows it."""
        said = self.page.locator(".marking .point").evaluate_all("all => all.map(p => p.ariaLabel)")
        rim = [words.split(", ") for words in said if words.startswith("outer rim")]
        return [[float(x.split()[1]), float(y.split()[1])] for *_, x, y in rim]

    def tap(self, *shares: float) -> None:
        """Tap along an arc of the photo, at shares of its width."""
        (left, top), (right, bottom) = self.bench.corner()
        self.bench.button("outer_rim").click()  # what one picks is not left by itself
        for share in shares:
            rise = (share - 0.5) ** 2
            self.page.mouse.click(
                left + share * (right - left), top + (0.25 + rise) * (bottom - top)
            )

    def wait_for(self, happened: Callable[[], bool], found: Callable[[], str] = lambda: "") -> None:
        """Wait, and let what goes over the line pass meanwhile."""
        end = time.monotonic() + LIMIT_S
        while not happened():
            assert time.monotonic() < end, f"it didn't happen in {LIMIT_S} s: {found()}"
            self.page.wait_for_timeout(50)

    def all_is_kept(self) -> None:
        """Wait until nothing lies in the tab's own storage any more."""
        self.wait_for(lambda: self.unsent() == [], lambda: str(self.unsent()))

    def kept(self, count: int) -> list[list[float]]:
        """Wait until the draft has so many points, and return them; they are those on the page."""

        def same() -> bool:
            rim, seen = self.rim(), self.seen()
            near = all(off(a, b) < 0.08 for a, b in zip(rim, seen, strict=False))
            return len(rim) == len(seen) == count and near  # the page says tenths

        self.wait_for(same, lambda: f"the draft has {self.rim()}, the page {self.seen()}")
        return self.rim()

    def reload(self) -> None:
        self.page.reload()
        self.bench.wait_until_painted()
        self.bench.settled()

    def unsent(self) -> list[Any]:
        """Return what lies in the tab's own storage."""
        held = self.page.evaluate("() => Object.values({...sessionStorage})")
        return [json.loads(value) for value in held if '"hand"' in value]


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Studio]:
    made = Studio(tmp_path_factory.mktemp("lasting"))
    staff(str(made.store))
    made.start()
    yield made
    made.stop()


@pytest.fixture
def ear(studio: Studio, open_page: OpenPage) -> Ear:
    """A photo without a card: nothing is measured in it, so the server answers quickly."""
    out = io.BytesIO()
    Image.new("RGB", (2000, 1500), (198, 134, 66)).save(out, "JPEG")
    return Ear(studio, open_page, out.getvalue())


def test_thirty_quick_edits_lose_none(studio: Studio, open_page: OpenPage) -> None:
    """On an ear with a card, where the server measures at every step and is late."""
    ear = Ear(studio, open_page, PHOTO.read_bytes())
    shares = [0.1 + 0.8 * i / 23 for i in range(24)]
    ear.tap(*shares)
    for key in ("ArrowRight", "ArrowDown", "ArrowDown", "ArrowLeft", "ArrowUp", "ArrowRight"):
        ear.page.keyboard.press(key)
    rim = ear.kept(24)
    assert rim[:-1] == sorted(rim[:-1])
    ear.all_is_kept()


def test_a_reload_in_the_middle_loses_nothing(ear: Ear) -> None:
    """Not even what was on its way: the page is gone before Python has said a word."""
    ear.tap(0.2, 0.4, 0.6, 0.8)
    before = ear.seen()
    ear.reload()
    assert ear.seen() == before
    ear.kept(4)
    ear.tap(0.9)
    ear.kept(5)
    ear.all_is_kept()


def test_undo_and_redo_outlive_a_reload(ear: Ear) -> None:
    ear.tap(0.2, 0.4, 0.6)
    three = ear.kept(3)
    ear.bench.button("undo").click()
    two = ear.kept(2)
    ear.reload()
    ear.bench.button("redo").click()
    assert ear.kept(3) == three
    ear.bench.button("undo").click()
    assert ear.kept(2) == two
    ear.bench.button("undo").click()
    ear.bench.button("undo").click()
    ear.kept(0)
    assert ear.bench.button("undo").is_disabled()
    ear.reload()
    assert ear.bench.button("undo").is_disabled()
    ear.bench.button("redo").click()
    ear.kept(1)


@pytest.mark.parametrize("how", ["cut", "offline"])
def test_a_lost_connection_loses_nothing(ear: Ear, how: str) -> None:
    """Closed, or still open with nothing coming through."""
    ear.tap(0.2, 0.4)
    ear.kept(2)
    ear.line.cut() if how == "cut" else ear.page.context.set_offline(True)
    ear.tap(0.6, 0.8)
    ear.page.get_by_text("Not kept yet: the program doesn't answer.").wait_for()
    assert len(ear.rim()) == 2
    ear.line.mend() if how == "cut" else ear.page.context.set_offline(False)
    ear.kept(4)
    ear.page.get_by_text("Not kept yet").wait_for(state="detached")
    ear.all_is_kept()


def test_a_killed_server_loses_nothing_that_the_page_holds(studio: Studio, ear: Ear) -> None:
    """The page stays open, nobody touches it, and the marks arrive at the next server."""
    ear.tap(0.2, 0.4)
    ear.kept(2)
    studio.kill()
    ear.tap(0.6, 0.8)
    ear.page.get_by_text("Not kept yet: the program doesn't answer.").wait_for()
    studio.start()
    ear.kept(4)
    ear.all_is_kept()
    ear.tap(0.9)
    ear.kept(5)
    ear.bench.button("undo").click()
    ear.kept(4)
    # The new server knows this page: it may see its photo.
    box = ear.bench.box.bounding_box()
    assert box is not None
    ear.bench.zoom_at((box["x"] + box["width"] / 2, box["y"] + box["height"] / 2), 6)
    ear.page.wait_for_selector('.marking[data-sharp="yes"]')


def test_a_page_outlives_a_server_that_was_killed_while_nobody_worked(
    studio: Studio, ear: Ear
) -> None:
    """It comes back by itself, and then asks for a fragment that the new server doesn't know."""
    connected = "[data-test-connection-state=CONNECTED]"
    ear.page.locator("[data-test-script-state=notRunning]").wait_for()
    studio.kill()
    ear.page.locator(connected).wait_for(state="detached")
    studio.start()
    ear.page.locator(connected).wait_for()
    ear.tap(0.2, 0.4)
    ear.kept(2)
    ear.all_is_kept()


def test_a_reload_after_a_killed_server_loses_nothing(studio: Studio, ear: Ear) -> None:
    ear.tap(0.2, 0.4)
    ear.kept(2)
    studio.kill()
    ear.tap(0.6, 0.8)
    assert len(ear.unsent()) == 1
    studio.start()
    ear.reload()
    rim = ear.kept(4)
    ear.all_is_kept()
    ear.reload()
    assert ear.kept(4) == rim


def test_two_pages_on_one_ear_can_get_back_what_the_other_replaced(
    studio: Studio, ear: Ear, open_page: OpenPage
) -> None:
    """What was unsent comes last and counts; the other page's marks are one step back."""
    ear.tap(0.2)
    ear.kept(1)
    studio.kill()
    ear.tap(0.3)
    studio.start()
    ear.page.goto("about:blank")
    other = open_page(f"{studio.url}/marks?client={ear.client}&side=left")
    theirs = Bench(other, 1)
    (left, top), (right, bottom) = theirs.corner()
    for share in (0.6, 0.7):
        other.mouse.click(left + share * (right - left), (top + bottom) / 2)
    ear.wait_for(lambda: len(ear.rim()) == 3)
    three = ear.rim()
    other.close()
    ear.page.go_back()
    ear.bench.wait_until_painted()
    assert ear.kept(2)[0] == three[0]
    ear.bench.button("undo").click()
    assert ear.kept(3) == three


def test_two_tablets_at_once_write_nothing_over(
    studio: Studio, ear: Ear, open_page: OpenPage
) -> None:
    """Who was late is told, sees the newest marks, and has their own one step back."""
    ear.tap(0.2)
    ear.kept(1)
    other = open_page(f"{studio.url}/marks?client={ear.client}&side=left", who=KIM)
    other.get_by_text(f"{ALEX} has this ear open at another chair.").wait_for()
    theirs = Bench(other, 1)
    (left, top), (right, bottom) = theirs.corner()
    for share in (0.6, 0.7):
        other.mouse.click(left + share * (right - left), (top + bottom) / 2)
    ear.wait_for(lambda: len(ear.rim()) == 3)
    three = ear.rim()
    ear.tap(0.4)
    ear.page.get_by_text("Another chair marked this photo meanwhile.").wait_for()
    assert ear.kept(3) == three
    ear.bench.button("undo").click()
    assert ear.kept(2)[0] == three[0]
    ear.all_is_kept()
