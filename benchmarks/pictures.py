"""Make the pictures of the docs from the demo: ``python -m benchmarks.pictures [NAMES]``.

The demo is laid out in a folder that goes again, served as ``rimspan app`` does, and looked at in
a headless Chromium as on a tablet (1024 x 768).  The days in the pictures are those of the run.
"""

from __future__ import annotations

import argparse
import io
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from benchmarks.speed_browser import served
from rimspan.cli import main as rimspan
from rimspan.clientfile import ClientFile
from rimspan.demo.story import HALFWAY, HEALED
from rimspan.screens.navigation import TITLES

PICTURES = Path(__file__).parents[1] / "docs" / "pictures"
TABLET: Any = {"width": 1024, "height": 768}
QUALITIES = (84, 76, 68, 60)
MOST_BYTES = 150_000
WAIT_MS = 180_000
PLAN = "Demo client C (invented, rendered ear)"


def _nothing(_: Page) -> None:
    """Leave the page as it is."""


def _unfold(words: str) -> Callable[[Page], None]:
    def unfold(page: Page) -> None:
        page.get_by_text(words).first.click()
        _rests(page)

    return unfold


def _chosen(words: str) -> Callable[[Page], None]:
    def choose(page: Page) -> None:
        page.get_by_text(words, exact=True).first.click()
        _rests(page)

    return choose


def _laid_out(page: Page) -> None:
    """Wish for two posts, and have them laid out."""
    page.get_by_role("radio", name="2", exact=True).click()
    _rests(page)
    page.get_by_role("radio", name="Where it carries best").click()
    _rests(page)
    page.locator(".planning[data-painted]").wait_for()


def _opened(page: Page) -> None:
    page.get_by_role("button", name="Open again").first.click()
    page.get_by_text("The marks as they were saved.").wait_for()
    _rests(page)


def _visit(page: Page) -> None:
    _unfold("After the piercing")(page)
    page.get_by_role("button", name="A visit", exact=True).first.click()
    page.get_by_role("heading", name="Visit of").wait_for()
    _rests(page)


@dataclass(frozen=True, slots=True)
class Shot:
    """A picture: of which client's page, what is done on it first, what is at its top."""

    page: str
    client: str = ""
    side: str = "left"
    first: Callable[[Page], None] = _nothing
    top: str = ""
    """Text that is scrolled to; the page's head if empty."""
    painted: str = ""


SHOTS: dict[str, Shot] = {
    "talk": Shot("talk", HEALED, first=_chosen("Questions")),
    "photos": Shot("photos", HEALED, top="The card is on a headband"),
    "marks": Shot("marks", HEALED, painted=".marking"),
    "answer": Shot("answer", HEALED),
    "plan": Shot("plan", PLAN, "right", first=_laid_out, painted=".planning"),
    "sign": Shot("sign", HEALED),
    "insertion": Shot("timeline", HEALED, first=_opened, top="A photo taken right after"),
    "stock": Shot("stock"),
    "due": Shot("due"),
    "visit": Shot("timeline", HALFWAY, "right", first=_visit),
    "timeline": Shot("timeline", HEALED, first=_unfold("After the piercing"), top="After the"),
    "outcomes": Shot("outcomes"),
}
"""By the picture's name."""


def _rests(page: Page) -> None:
    page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")
    page.wait_for_function("() => [...document.images].every(each => each.complete)")


def _shown(page: Page, url: str, ids: dict[str, str], shot: Shot) -> bytes:
    asked = f"?client={ids[shot.client]}&side={shot.side}" if shot.client else ""
    link = page.locator(f'a[href$="/{shot.page}"]')
    if asked and ids[shot.client] in page.url and link.count():
        link.first.click()  # a new address would be another chair at the same ear
    else:
        page.goto(f"{url}/{shot.page}{asked}")
    # The title is set as the page's run begins.
    wanted = f"{TITLES[shot.page]} · Rimspan"
    page.wait_for_function("title => document.title === title", arg=wanted)
    _rests(page)
    if shot.painted:
        page.locator(f"{shot.painted}[data-painted]").wait_for()
    shot.first(page)
    if shot.top:
        page.get_by_text(shot.top).first.evaluate("each => each.scrollIntoView()")
    else:
        page.evaluate("document.querySelector('[data-testid=stMain]').scrollTo(0, 0)")
    page.mouse.move(0, 0)
    _rests(page)
    return bytes(page.screenshot(animations="disabled"))


def small(png: bytes) -> bytes:
    """Return a picture as WebP that is no larger than the docs bear.

    Raises
    ------
    ValueError
        If none of the qualities is small enough.
    """
    with Image.open(io.BytesIO(png)) as picture:
        plain = picture.convert("RGB")
    for quality in QUALITIES:
        out = io.BytesIO()
        plain.save(out, "WEBP", quality=quality, method=6)
        if out.tell() <= MOST_BYTES:
            return out.getvalue()
    raise ValueError(f"a picture is over {MOST_BYTES} bytes at the lowest quality")


def make(names: list[str]) -> None:
    """Make the pictures of those names."""
    PICTURES.mkdir(exist_ok=True)
    chromium = next(filter(None, map(shutil.which, ("chromium", "google-chrome"))), None)
    with TemporaryDirectory() as held:
        folder = Path(held) / "demo"
        rimspan(["demo", "--into", str(folder)])
        with ClientFile.open(folder) as file:
            ids = {client.name: client.id for client in file.clients()}
        with served(folder) as url, sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=chromium, args=["--headless", "--no-sandbox", "--disable-gpu"]
            )
            context = browser.new_context(viewport=TABLET, has_touch=True, reduced_motion="reduce")
            page = context.new_page()
            page.set_default_timeout(WAIT_MS)
            for name in names:
                _write(name, _shown(page, url, ids, SHOTS[name]))
            browser.close()


def _write(name: str, png: bytes) -> None:
    data = small(png)
    (PICTURES / f"{name}.webp").write_bytes(data)
    print(f"{name}.webp: {len(data)} bytes")


def main() -> None:
    """Make the pictures that are named, or all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(SHOTS)}")
    make(parser.parse_args().names or list(SHOTS))


if __name__ == "__main__":
    main()
