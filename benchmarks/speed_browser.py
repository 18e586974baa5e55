"""How long a piercer waits in a real browser: a line's proposal, and the number under a finger.

A headless Chromium at a server of its own, on a 12 MP photo in an invented client's file.  Times
are taken in the page: from the event under the finger until what it asked for stands there.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.parse import urljoin

from playwright.sync_api import Page, sync_playwright

from calibration.frames import Array
from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document, with_marks, with_photo

PROPOSALS, DRAGS = 15, 25
REST_MS = 700
"""A finger that stops to look at the number, or goes on to the next tap: a pointing takes longer
(1.1 s in the keystroke-level model)."""
START_S = 120
FILE = "square-on.jpg"

WATCH = """() => {
  window.seen = { pressed: 0, moved: 0, drawn: 0, number: 0, asked: [] };
  const mark = (name) => () => { window.seen[name] = performance.now(); };
  for (const [event, name] of [["pointerup", "pressed"], ["pointermove", "moved"]]) {
    window.addEventListener(event, mark(name), { capture: true });
  }
  const text = () => (document.querySelector(".rim-live") || {}).textContent || "";
  let last = text();
  const look = () => {
    const now = text();
    if (now && now !== last) { last = now; window.seen.number = performance.now(); }
    const host = [...document.querySelectorAll("*")].find((each) => each.shadowRoot
      && each.shadowRoot.querySelector(".marking"));
    const accept = host && host.shadowRoot.querySelector('[data-name="accept"]');
    if (!accept || accept.hidden) window.seen.drawn = 0;
    else if (!window.seen.drawn) window.seen.drawn = performance.now();
    requestAnimationFrame(look);
  };
  look();
}"""
FETCHED = """() => performance.getEntriesByType("resource")
  .filter((each) => each.name.endsWith("/marking-help")).map((each) => each.duration)"""
PIERCER, PASSWORD = "Alex Invented", "invented password"
PASSPHRASE = "an invented passphrase"  # noqa: S105
VIEW = """mark => { const { scale, x, y } = mark.getRootNode().rimspanMarking.view;
  const box = mark.querySelector("[data-part=box]").getBoundingClientRect();
  return [scale, x + box.left, y + box.top]; }"""


@contextmanager
def served(store: Path) -> Iterator[str]:
    """Serve the screens on a store under the benchmark's passphrase, and yield their address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    start = f"from rimspan.screens.launch import launch; launch({str(store)!r}, {port})"
    server = subprocess.Popen(  # noqa: S603  (this very program)
        [sys.executable, "-c", start],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | {"RIMSPAN_PASSPHRASE": PASSPHRASE},
    )
    url = f"http://localhost:{port}"
    try:
        end = time.monotonic() + START_S
        while not _healthy(url):
            if server.poll() is not None or time.monotonic() > end:
                raise RuntimeError("the server didn't start")
            time.sleep(0.1)
        yield url
    finally:
        server.terminate()
        server.wait(30)


def _healthy(url: str) -> bool:
    try:
        with urllib.request.urlopen(f"{url}/_stcore/health", timeout=2) as answer:  # noqa: S310
            return bool(answer.status == 200)
    except OSError:
        return False


@contextmanager
def page_at(url: str) -> Iterator[Page]:
    """Open an address in a headless Chromium."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-gpu"]
        )
        context = browser.new_context(viewport={"width": 1024, "height": 768})
        form: dict[str, str | float | bool] = {"person": PIERCER, "secret": PASSWORD, "to": "/"}
        context.request.post(urljoin(url, "/sign-in"), form=form, max_redirects=0)
        page = context.new_page()
        page.set_default_timeout(START_S * 1000)
        page.goto(url)
        page.locator(".marking[data-painted]").wait_for()
        page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")
        page.evaluate(WATCH)
        try:
            yield page
        finally:
            browser.close()


def client_with(store: Path, photo: bytes, marks: dict[str, Any]) -> str:
    """Return the address of an invented client's Marks page, with a photo and marks."""
    with ClientFile.open(store, PASSPHRASE) as file:
        if not file.people.all():
            file.people.add_first(PIERCER, PASSWORD)
        client = file.create_client("Robin Example").id
        kept = file.add_photo(client, photo, FILE, "left")
        document = with_photo(new_document("left"), FILE, kept.sha256)
        file.save_draft(client, "left", with_marks(document, FILE, marks))
    return f"/marks?client={client}&side=left"


def place(page: Page, point: Array) -> tuple[float, float]:
    """Return where a pixel of the photo is in the window."""
    scale, left, top = page.locator(".marking").evaluate(VIEW)
    return left + (float(point[0]) + 0.5) * scale, top + (float(point[1]) + 0.5) * scale


def proposals(page: Page, taps: Array) -> dict[str, list[float]]:
    """Return the times of proposals, ms: of the question alone, and from the third tap on.

    Once with the rests between the taps that a hand needs, once without any.
    """
    found = {"third tap": _proposed(page, taps, REST_MS)}
    found = {"question": list(page.evaluate(FETCHED))} | found
    return found | {"at once": _proposed(page, taps, 0.0)}


def _proposed(page: Page, taps: Array, rest_ms: float) -> list[float]:
    waited = []
    for _ in range(PROPOSALS):
        page.locator('.marking button[data-name="outer_rim"]').click()
        for tap in taps:
            page.wait_for_timeout(rest_ms)
            page.mouse.click(*place(page, tap))
        page.wait_for_function("() => window.seen.drawn > window.seen.pressed")
        waited.append(float(page.evaluate("() => window.seen.drawn - window.seen.pressed")))
        page.wait_for_timeout(REST_MS)
        for _ in taps:
            page.locator('.marking button[data-name="undo"]').click()
        page.wait_for_function("() => !window.seen.drawn")
        page.wait_for_timeout(REST_MS)
    return waited


def drags(page: Page, start: Array, rest_ms: float) -> list[float]:
    """Return the times from a finger's move until the number it makes stands there, ms."""
    x, y = place(page, start)
    page.mouse.move(x, y)
    page.mouse.down()
    times = []
    for turn in range(DRAGS + 1):
        page.mouse.move(x, y + (9 if turn % 2 else 18))
        page.wait_for_function("() => window.seen.number > window.seen.moved", polling=4)
        times.append(float(page.evaluate("() => window.seen.number - window.seen.moved")))
        page.wait_for_timeout(rest_ms)
    page.mouse.up()
    return times[1:]  # the first one also wakes the page


def in_browser(photo: bytes, taps: Array, ends: Array) -> dict[str, list[float]]:
    """Return every kind of wait with its times, ms.

    Parameters
    ----------
    photo : the bytes of a photo with a card in it
    taps : (3, 2), px, on its outer contour
    ends : (2, 2), px, entry and exit
    """
    names = ("entry", "exit")
    marks = {"placements": [{"label": "1"} | dict(zip(names, ends.tolist(), strict=True))]}
    with TemporaryDirectory() as folder:
        store = Path(folder)
        bare, marked = client_with(store, photo, {}), client_with(store, photo, marks)
        with served(store) as url:
            with page_at(url + bare) as page:
                found = proposals(page, taps)
            with page_at(url + marked) as page:
                found["rests"] = drags(page, ends[1], REST_MS)
                page.locator('.marking button[data-name="undo"]').click()
                page.wait_for_timeout(REST_MS)
                found["back to back"] = drags(page, ends[1], 0.0)
    return found
