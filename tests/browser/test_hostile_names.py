"""Hostile names and notes, through the screens: seen as they were typed, and nothing fetched."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest

from rimspan.clientfile import ClientFile
from tests.rimspan.clientfile.made import new, picture

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
NAMES = [
    "A <script>window.hurt = 1</script>",
    "B <img src=https://elsewhere.example/x.png onerror=window.hurt=1>",
    "C ![x](https://elsewhere.example/x.png) [y](https://elsewhere.example)",
    "D https://elsewhere.example/z www.elsewhere.example a@elsewhere.example",
    "E **b** _i_ `c` $x^2$ :smile: :material/home: :red[r] -> <-",
    "F =HYPERLINK(1) ../../etc/passwd 1. &lt;b&gt;",
    "G line\n\n<b onmouseover=window.hurt=1>next</b>",
    "H \u202eturned\u2066",
]
SHOWN = {
    NAMES[6]: "G line <b onmouseover=window.hurt=1>next</b>",
    NAMES[7]: "H [U+202E]turned[U+2066]",
}
"""What is seen of those that hold what steers a page."""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


def seen(page: Page) -> str:
    return page.locator("body").inner_text().replace("\u2060", "").replace("\u00a0", " ")


def check(page: Page, asked: list[str]) -> None:
    assert page.evaluate("window.hurt") is None
    assert (
        page.locator("[src*=elsewhere], [href*=elsewhere], [onmouseover], [onerror]").count() == 0
    )
    assert {urlsplit(url).hostname for url in asked} <= {"127.0.0.1", None}


def test_hostile_names_and_notes_are_text_on_every_page(
    serve: Any, open_page: Any, tmp_path: Path
) -> None:
    long = "n" * 65_536
    with ClientFile.open(tmp_path) as file:
        for number, name in enumerate(NAMES):
            client = file.create_client(name, f"note {name}").id
            photo = file.add_photo(client, picture(number), f"{name}.jpg", "left")
            marks = {"format": "rimspan-marks/1", "side": "left", "photos": []}
            result = {"placements": []}
            saved = new(
                client,
                marks=marks,
                result=result,
                photos={"a": photo.sha256},
                confirmed_by=name,
                measured_by=name,
            )
            file.save_revision(saved, f"t{number}")
        file.create_client("Long (invented)", long)
    page = open_page(serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(tmp_path)}))
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.get_by_role("button", name="Long (invented)").wait_for()
    listed = seen(page)
    for name in NAMES:
        assert SHOWN.get(name, name) in listed
    check(page, asked)
    for name in NAMES[2:5:2] + NAMES[6:]:  # each page takes a while, and the list has them all
        shown = SHOWN.get(name, name)
        first = re.compile(f"^{name[0]} ")
        page.locator(".stMain").get_by_role("button", name=first).first.click()
        page.wait_for_url("**/client?*")
        page.get_by_role("heading", name=first).wait_for()
        page.get_by_text(re.compile(f"^note {name[0]} ")).wait_for()
        page.locator(".rim-where").wait_for()
        opened = seen(page)
        assert opened.count(shown) == 3, shown  # the head, the title, the note
        check(page, asked)
        page.get_by_role("link", name="Start").first.click()
        page.get_by_role("button", name="Long (invented)").wait_for()
    page.get_by_role("button", name="Long (invented)").click()
    page.get_by_role("heading", name="Long (invented)").wait_for()
    page.get_by_text(long[:200]).first.wait_for()
    assert long in seen(page)
    check(page, asked)
