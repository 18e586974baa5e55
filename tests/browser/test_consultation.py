"""The whole job in a browser: from a client's name to a saved assessment, opened again.

The photo is a rendered ear's whose true channel stands in the file beside it: the outside check
of the millimetres that are read from the screen.
"""

from __future__ import annotations

import json
import math
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rimspan.clientfile import ClientFile

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_images" / "pronounced"
PHOTO = SAMPLE / "square-on.jpg"
PHOTO_SIZE = (2000, 1500)
TABLET = {"width": 1024, "height": 768, "touch": True}

NUMBER = r"(\d+(?:\.\d+)?)"
CHANNEL = re.compile(rf"channel (?:is )?{NUMBER} mm, between {NUMBER} and {NUMBER}")
COVERAGE = 1.96
"""An interval of 95 % reaches this many standard uncertainties to each side."""

Point = tuple[float, float]

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


def truth() -> dict[str, Any]:
    document = json.loads(PHOTO.with_suffix(".truth.json").read_text("utf-8"))
    return document["placements"]["A"]


def drawn() -> dict[str, Any]:
    """Return the sample's own marks: where a hand put them, the exit on the visible edge."""
    return json.loads((SAMPLE / "marks-examined.json").read_text("utf-8"))


def numbers(words: str) -> tuple[float, float, float]:
    found = CHANNEL.search(words)
    assert found is not None, words
    value, low, high = (float(group) for group in found.groups())
    return value, low, high


class Chair:
    """A tablet at the chair."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def go(self, station: str) -> None:
        self.page.get_by_role("link", name=re.compile(f"^{station}")).first.click()

    def sees(self, words: str | re.Pattern[str]) -> Locator:
        found = self.page.get_by_text(words).first
        found.wait_for()
        return found

    def pick(self, begins: str) -> None:
        """Tap one of some choices that stand side by side."""
        wanted = re.compile(f"^{begins}")
        radio = self.page.get_by_role("radio", name=wanted)
        radio.or_(self.page.get_by_role("button", name=wanted)).first.click()
        self.rests()

    def rests(self) -> None:
        """Wait until the server has drawn all that was asked for."""
        self.page.locator("[data-test-script-state=notRunning]").wait_for()

    @property
    def points(self) -> Locator:
        return self.page.locator(".marking[data-painted] [data-part=points] [data-id]")

    def take(self, tool: str) -> None:
        self.page.locator(f".marking[data-painted] button[data-name={tool}]").click()

    def tap(self, point: Point) -> None:
        """Tap a pixel of the photo, which is fitted into its box, and wait for its mark."""
        from playwright.sync_api import expect

        count = self.points.count()
        box = self.page.locator(".marking [data-part=box]").bounding_box()
        assert box is not None
        width, height = PHOTO_SIZE
        scale = min(box["width"] / width, box["height"] / height)
        left = box["x"] + (box["width"] - width * scale) / 2
        top = box["y"] + (box["height"] - height * scale) / 2
        # The photo's (0, 0) is a pixel's centre, the box's its corner.
        self.page.mouse.click(left + (point[0] + 0.5) * scale, top + (point[1] + 0.5) * scale)
        expect(self.points).to_have_count(count + 1)

    def live(self) -> str:
        return self.page.locator(".rim-live").inner_text()

    def type_number(self, label: str, value: float) -> None:
        field = self.page.get_by_label(label, exact=True)
        self.rests()  # a hand waits for the page too
        field.fill(f"{value}")
        field.press("Enter")
        self.rests()


def away_from(points: list[Point], others: list[Point], least_px: float) -> list[Point]:
    """Return the points that a tap at one of the others would not pick up."""
    return [p for p in points if all(math.dist(p, other) > least_px for other in others)]


def mark_everything(chair: Chair) -> None:
    """Mark the placement at its true dots and the rim as the sample's marks have it."""
    points, photo = truth()["points"], drawn()["photos"][0]
    edge = next(p for p in photo["placements"] if p["label"] == "A")["exit"]
    spots = [points["entry"]["px"], edge, points["below"]["px"]]
    chair.take("fit")
    chair.take("entry")
    chair.tap(spots[0])
    chair.tap(spots[1])
    chair.take("edge")  # the exit lies under the fold: only the visible edge could be marked
    chair.take("below")
    chair.tap(spots[2])
    for name in ("outer_rim", "inner_rim"):
        chair.take(name)
        for point in away_from(photo[name][::3], spots, 40.0):
            chair.tap(point)


def examine(chair: Chair, store: Path) -> None:
    """Say what hands, calipers and depth rod found on this ear."""
    document = drawn()
    read = document["caliper"]["A"]
    chair.rests()
    chair.page.get_by_role("radio", name="firm", exact=True).or_(
        chair.page.get_by_role("button", name="firm", exact=True)
    ).first.click()
    wait_for(lambda: bool(kept(store).get("examined")))
    chair.type_number("Fold depth, not pressed (mm)", read["fold_depth_mm"])
    chair.type_number("Relief, by depth rod (mm)", read["relief_mm"])
    chair.page.get_by_text("How far the rim stands before the card").click()
    chair.type_number(
        "Rim before the card, toward the camera (mm)", document["rim_plane"]["offset_mm"]
    )


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "store"


def kept(store: Path) -> dict[str, Any]:
    with ClientFile.open(store) as file:
        (client,) = file.clients()
        return file.draft(client.id, "left") or {}


def saved(store: Path) -> int:
    with ClientFile.open(store) as file:
        (client,) = file.clients()
        return len(file.revisions(client.id))


def wait_for(happened: Callable[[], bool], limit_s: float = 15.0) -> None:
    end = time.monotonic() + limit_s
    while not happened():
        assert time.monotonic() < end, f"it didn't happen in {limit_s} s"
        time.sleep(0.05)


def begin(chair: Chair) -> None:
    """Create a client, choose the ear, bring the photo."""
    chair.page.get_by_label("Name or a sign of your own").fill("Robin Example")
    chair.page.get_by_role("button", name="Create the client").click()
    chair.sees("Which ear, the client's own?")
    chair.page.get_by_role("button", name="Left ear").click()
    chair.sees("Take photos, or choose several")
    chair.page.locator("input[type=file]").set_input_files(PHOTO)
    chair.sees(re.compile(r"Card rimspan-frame-1 found: \d+ of 58 corners\."))


def test_the_whole_job(serve: Any, open_page: Any, store: Path) -> None:
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    chair = Chair(open_page(url, **TABLET))
    begin(chair)
    chair.go("Marks")
    mark_everything(chair)
    chair.sees(CHANNEL)
    examine(chair, store)
    chair.sees("Nothing is missing.")
    wait_for(lambda: "rim_plane" in kept(store))
    chair.rests()

    # Nothing is lost by a reload: marks, findings, numbers.
    before, count, draft = numbers(chair.live()), chair.points.count(), kept(store)
    chair.page.reload()
    chair.page.wait_for_function("() => document.querySelector('.rim-live')")
    chair.points.first.wait_for()
    assert numbers(chair.live()) == before
    assert chair.points.count() == count
    assert kept(store) == draft
    assert draft["examined"] == {"1": {"tissue": "firm"}}

    chair.go("Talk")
    chair.pick("18 or older")
    chair.page.get_by_text("I looked at the client's identity paper").click()
    chair.sees("Age and consent are met.")

    chair.go("Answer")
    chair.sees("What was marked, as it was measured.")
    value, low, high = numbers(chair.page.locator(".rim-says").inner_text())
    u = (high - low) / (2 * COVERAGE)
    assert abs(value - truth()["channel_mm"]) <= 3 * u
    assert u <= 0.7
    chair.sees("The piercer who examines the ear decides.")

    # Without the box, nothing is saved.
    chair.go("Sign")
    box = chair.page.get_by_role("checkbox", name="I examined this ear myself, and I decide.")
    box.wait_for(state="attached")
    assert not box.is_checked()
    save = chair.page.get_by_role("button", name="Save the assessment")
    save.click()
    chair.sees("Nothing was saved.")
    assert saved(store) == 0

    chair.page.get_by_text("I examined this ear myself, and I decide.").click()
    save.click()
    chair.sees("Saved as revision 1.")
    assert saved(store) == 1
    with chair.page.expect_download() as report:
        chair.page.get_by_role("button", name="Download the report (PDF)").click()
    assert Path(report.value.path()).read_bytes().startswith(b"%PDF")

    chair.go("Timeline")
    chair.page.get_by_role("button", name="Open again").click()
    chair.sees("The marks as they were saved.")
    assert numbers(chair.page.locator(".rim-says").inner_text()) == (value, low, high)
    chair.rests()
    chair.page.get_by_role("button", name="Measure again").click()
    chair.sees("Measured again: same numbers.")
