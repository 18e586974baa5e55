"""A grouping at the chair: three are wished for, the rim carries two, and two go ahead.

The ear is rendered and the people invented.  The studio of this scenario wants its posts 10 mm
apart; an old hole and a bar through the rim take the rest of the room.
"""

from __future__ import annotations

import io
import json
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "rimspan" / "demo" / "samples" / "three"
SIDE = "right"
TABLET = {"width": 1024, "height": 768, "touch": True}
LIMIT_S = 40.0

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


def wait_for(happened: Callable[[], bool]) -> None:
    end = time.monotonic() + LIMIT_S
    while not happened():
        assert time.monotonic() < end, f"it didn't happen in {LIMIT_S} s"
        time.sleep(0.05)


def begin(store: Path) -> str:
    """Return the id of a client whose ear is marked, with what was pierced before."""
    marks = json.loads((SAMPLE / "marks-plan.json").read_text("utf-8"))
    plan = marks["x_plan"] | {"placements": [], "wanted": 1}
    with ClientFile.open(store) as file:
        client = file.create_client("Robin Example")
        (photo,) = marks["photos"]
        data = (SAMPLE / photo["file"]).read_bytes()
        kept = file.add_photo(client.id, data, photo["file"], SIDE).sha256
        told = {
            "photos": [photo | {"x_sha256": kept}],
            "x_plan": plan,
            "x_talk": {"age": {"at_least_years": 18, "identity_checked": True}},
        }
        file.save_draft(client.id, SIDE, new_document(SIDE) | marks | told)
    return client.id


class Chair:
    """The plan's page at a tablet."""

    def __init__(self, page: Page, store: Path, client: str) -> None:
        self.page, self.store, self.client = page, store, client

    def plan(self) -> dict[str, Any]:
        with ClientFile.open(self.store) as file:
            return dict((file.draft(self.client, SIDE) or {}).get("x_plan", {}))

    def post(self, label: str) -> Locator:
        return self.page.locator(f'.planning[data-painted] .post[data-label="{label}"]')

    def sees(self, words: str | re.Pattern[str]) -> Locator:
        found = self.page.get_by_text(words).first
        found.wait_for()
        return found

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def pick(self, name: str) -> None:
        radio = self.page.get_by_role("radio", name=name, exact=True)
        radio.or_(self.page.get_by_role("button", name=name, exact=True)).first.click()

    def tap(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).click()

    def go(self, station: str) -> None:
        self.page.get_by_role("link", name=re.compile(f"^{station}")).first.click()


def test_three_are_wished_for_and_two_go_ahead(serve: Any, open_page: Any, tmp_path: Path) -> None:
    store = tmp_path / "store"
    client = begin(store)
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    page = open_page(f"{url}/plan?client={client}&side={SIDE}", **TABLET)
    chair = Chair(page, store, client)
    page.locator(".planning[data-painted]").wait_for()

    # Three: it says that there are no three, and why.
    chair.pick("3")
    chair.sees("Three posts have no place here that keeps every limit; two posts would.")
    chair.sees(re.compile("What was pierced before takes the room"))
    chair.sees("Three posts asked for; nothing is planned yet.")
    assert chair.plan()["placements"] == []

    chair.tap("Lay out two posts")
    chair.sees(re.compile("^Three posts asked for; two posts planned, since the rim carries two"))
    chair.post("B").wait_for()
    assert [each["label"] for each in chair.plan()["placements"]] == ["A", "B"]

    # A post that is dragged toward its neighbour breaks the distance; the page says so.
    page.locator(".planning .hint").scroll_into_view_if_needed()
    a, b = (chair.post(label).locator(".badge").bounding_box() for label in "AB")
    grip = chair.post("A").locator("path.end").first.bounding_box()
    assert a is not None
    assert b is not None
    assert grip is not None
    before = chair.plan()["placements"][0]["entry"]
    x, y = grip["x"] + grip["width"] / 2, grip["y"] + grip["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 0.3 * (b["x"] - a["x"]), y + 0.3 * (b["y"] - a["y"]), steps=4)
    page.mouse.move(x + 0.6 * (b["x"] - a["x"]), y + 0.6 * (b["y"] - a["y"]), steps=4)
    page.mouse.up()
    wait_for(lambda: chair.plan()["placements"][0]["entry"] != before)
    chair.sees(re.compile("at least 10.0 mm is wanted. Move one of them."))
    chair.post("A").locator("text", has_text="A !").wait_for()

    # The keyboard moves it, too; then it is laid out as it was.
    dragged = chair.plan()["placements"][0]["entry"]
    chair.post("A").focus()
    page.keyboard.press("ArrowUp")
    wait_for(lambda: chair.plan()["placements"][0]["entry"] != dragged)
    chair.rests()
    chair.pick("Even along the rim")
    chair.sees("Three posts have no place here that keeps every limit; two posts would.")
    chair.tap("Lay out two posts")
    wait_for(lambda: len(chair.plan()["placements"]) == 2)
    chair.sees(re.compile("All of them keep their limits together"))

    # The client sees before and after, and approves; a move would take that back.
    chair.tap("Before")
    page.wait_for_function(
        "() => [...document.querySelectorAll('*')].some(each => "
        "each.shadowRoot && each.shadowRoot.querySelector('.planning') && "
        "!each.shadowRoot.querySelector('.post'))"
    )
    chair.tap("First posts")
    chair.post("A").wait_for()
    chair.tap("The client approves this drawing")
    chair.sees(re.compile("The client approved the drawing at true size on"))
    chair.sees("2 planned, approved")
    assert chair.plan()["approval"]["answer"] == "approved"

    # Signed, it is in the revision, with what was measured of it.
    chair.go("Sign")
    chair.sees(re.compile("^Three posts asked for; two posts planned"))
    page.get_by_text("I examined this ear myself, and I decide.").click()
    chair.tap("Save the assessment")
    chair.sees("Saved as revision 1.")
    with ClientFile.open(store) as file:
        (revision,) = file.revisions(client)
        marks, result = revision.marks, revision.result
    assert [each["label"] for each in marks["x_plan"]["placements"]] == ["A", "B"]
    assert marks["x_plan"]["approval"]["answer"] == "approved"
    assert result["plan"]["carries"]["count"] == 2
    assert result["plan"]["supports"]
    with page.expect_download() as report:
        chair.tap("Download the report (PDF)")
    words = words_of(Path(report.value.path()).read_bytes())
    assert "The plan, drawn at true size on the photo" in words
    assert "two posts planned" in words


def words_of(pdf: bytes) -> str:
    """Return the words of a PDF, in one line."""
    pypdfium2 = pytest.importorskip("pypdfium2")
    pages = [
        page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(io.BytesIO(pdf))
    ]
    return re.sub(r"\s+", " ", " ".join(pages))
