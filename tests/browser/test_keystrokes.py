"""The keystroke count follows the screens: a finger does every step of it, with help.

What a step is said to take in ``benchmarks/keystrokes.py`` is held against what it took here:
each tap and key is counted as it is made, and a tap counts only on what is in sight, so that no
swipe is left out.  Thinking (M) and moving the hands (H) can't be driven; the system's own
dialog for photos can't either.  The photo is a rendered ear whose places are known.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from benchmarks.keystrokes import TAP, helped, steps
from calibration.frames import Array
from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document
from sample_images.sets import sample_set
from sample_images.visible import contours

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

ROOT = Path(__file__).resolve().parents[2]
PHOTO = ROOT / "sample_images" / "pronounced" / "square-on.jpg"
DRAWN = json.loads((PHOTO.parent / "marks-examined.json").read_text("utf-8"))
TABLET = {"width": 1024, "height": 768, "touch": True}
PIERCER = "Alex Invented"
NOT_DRIVEN = {"Find the photo in the system's dialog, tap it", "Confirm it there"}

TOPMOST = """(aim, [x, y]) => { let seen = document.elementFromPoint(x, y);
  while (seen && seen.shadowRoot) seen = seen.shadowRoot.elementFromPoint(x, y);
  return Boolean(seen) && (aim.contains(seen) || seen.contains(aim)); }"""
"""Whether a place of the window shows the thing that is aimed at, or a label round it."""

VIEW = """mark => { const { scale, x, y } = mark.getRootNode().rimspanMarking.view;
  return [scale, x, y]; }"""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


class Finger:
    """One finger on a tablet, and what it did since it was last asked."""

    def __init__(self, page: Page) -> None:
        self.page, self.did = page, ""

    def tap_at(self, x: float, y: float) -> None:
        self.page.touchscreen.tap(x, y)
        self.did += TAP

    def tap(self, aim: Locator) -> None:
        """Tap the middle of something that must be in sight where it is, uncovered."""
        aim.wait_for()
        self.rests()
        frame = aim.bounding_box()
        assert frame is not None
        x, y = frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2
        assert 0 < x < TABLET["width"]
        assert 0 < y < TABLET["height"], f"out of sight: {aim}"
        assert aim.evaluate(TOPMOST, [x, y]), f"covered: {aim}"
        self.tap_at(x, y)

    def keys(self, *names: str) -> None:
        for name in names:
            self.page.keyboard.press(name)
            self.did += "T"

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def took(self) -> str:
        did, self.did = self.did, ""
        return did


class Chair:
    """What is done at each step, by the words that the count has for it."""

    def __init__(self, page: Page, store: Path) -> None:
        self.page, self.store, self.finger = page, store, Finger(page)
        self.marks = page.locator(".marking[data-painted]")

    def button(self, name: str) -> Locator:
        return self.page.get_by_role("button", name=name, exact=True)

    def link(self, name: str) -> Locator:
        return self.page.get_by_role("link", name=name, exact=True)

    def in_photo(self, *points: Any) -> None:
        """Tap places of the photo, each once the one before is marked."""
        from playwright.sync_api import expect

        known = self.marks.locator("[data-part=points] [data-id]")
        for point in points:
            count = known.count()
            scale, left, top = self.marks.evaluate(VIEW)
            frame = self.marks.locator("[data-part=box]").bounding_box()
            assert frame is not None
            x = left + (point[0] + 0.5) * scale
            y = top + (point[1] + 0.5) * scale
            assert 0 < x < frame["width"]
            assert 0 < y < frame["height"]
            self.finger.tap_at(frame["x"] + x, frame["y"] + y)
            expect(known).to_have_count(count + 1)

    def asks_for(self, step: str) -> None:
        """Wait until the marking itself has gone on to a mark."""
        self.page.locator(f".marking[data-step={step}]").wait_for()

    def upload(self) -> None:
        with self.page.expect_file_chooser() as dialog:
            self.finger.tap(self.button("Upload"))
        dialog.value.set_files(PHOTO)
        self.page.get_by_text("58 of 58 corners.").wait_for()

    def accept(self) -> None:
        self.finger.tap(self.button("Accept both lines"))
        self.asks_for("entry")

    def hands(self) -> None:
        self.page.locator(".rim-live").get_by_text("channel").wait_for()
        self.finger.tap(self.link("Hands and calipers"))

    def firm(self) -> None:
        radio = self.page.get_by_role("radio", name="firm", exact=True)
        self.finger.tap(radio.or_(self.button("firm")).first)
        self.finger.rests()

    def fold_depth(self) -> None:
        self.finger.tap(self.page.get_by_label("Fold depth, not pressed (mm)", exact=True))
        self.finger.keys(*str(DRAWN["caliper"]["A"]["fold_depth_mm"]))

    def relief(self) -> None:
        self.finger.keys("Enter", *str(DRAWN["caliper"]["A"]["relief_mm"]))

    def sign(self) -> None:
        # A finger doesn't wait: the number typed last isn't even sent yet.
        self.finger.tap(self.link("Go on to answer and sign"))
        self.page.get_by_text("The rim supports this placement").first.wait_for()


@pytest.fixture(scope="module")
def rims() -> dict[str, Array]:
    """Return the visible contours of the ear that was rendered, px."""
    sample = sample_set("pronounced")
    view, standing = sample.view("square-on"), sample.standing
    lines = contours(sample.ear, standing.to_ear(view.centre_card[None])[0], 60)
    names = ("outer_rim", "inner_rim")
    return {n: view.pixels(standing.to_card(line)) for n, line in zip(names, lines, strict=True)}


@pytest.fixture
def chair(serve: Any, open_page: Any, tmp_path: Path) -> Chair:
    store = tmp_path / "store"
    with ClientFile.open(store) as file:
        file.create_client("Kim Sample")
        talked = file.create_client("Robin Example")
        age = {"at_least_years": 18, "identity_checked": True}  # the talk is counted by itself
        file.save_draft(talked.id, "left", new_document("left") | {"x_talk": {"age": age}})
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    return Chair(open_page(url, who=PIERCER, **TABLET), store)


def doings(chair: Chair, rims: dict[str, Array]) -> Iterator[Callable[[], Any]]:
    """Return what is done at each step that asks for more than a thought, in their order."""
    finger = chair.finger
    points = json.loads(PHOTO.with_suffix(".truth.json").read_text("utf-8"))["placements"]["A"]
    spots = {name: found["px"] for name, found in points["points"].items()}
    (photo,) = [p for p in DRAWN["photos"] if p["file"] == PHOTO.name]
    edge = photo["placements"][0]["exit"]
    outer, inner = (line[[2, len(line) // 2, -3]] for line in rims.values())
    yield lambda: finger.tap(chair.button("Left ear").nth(1))
    yield chair.upload
    yield lambda: finger.tap(chair.link("Go on to the marks"))
    yield lambda: (chair.asks_for("outer_rim"), chair.in_photo(*outer))
    yield lambda: (chair.asks_for("inner_rim"), chair.in_photo(*inner))
    yield chair.accept
    yield lambda: chair.in_photo(spots["entry"])
    yield lambda: (chair.asks_for("exit"), chair.in_photo(edge))
    yield lambda: finger.tap(chair.button("Exit on the visible edge"))
    yield lambda: (chair.asks_for("below"), chair.in_photo(spots["below"]))
    yield chair.hands
    yield chair.firm
    yield chair.fold_depth
    yield chair.relief
    yield chair.sign
    yield lambda: finger.tap(chair.page.get_by_text("I examined this ear myself, and I decide."))
    yield lambda: finger.tap(chair.button("Save the assessment"))


def test_every_step_takes_what_the_count_says(chair: Chair, rims: dict[str, Array]) -> None:
    waiting = doings(chair, rims)
    for step in steps():
        counted = helped(step).replace("M", "").replace("H", "")
        if not counted or step.does in NOT_DRIVEN:
            continue
        next(waiting)()
        assert chair.finger.took() == counted, step.does
    assert next(waiting, None) is None

    chair.page.get_by_text("Saved as revision 1.").wait_for()
    with ClientFile.open(chair.store) as file:
        (client,) = [c for c in file.clients() if c.name == "Robin Example"]
        (revision,) = file.revisions(client.id)
        draft = file.draft(client.id, "left") or {}
    assert revision.confirmed_by == PIERCER
    assert revision.marks["caliper"]["1"]["relief_mm"] == DRAWN["caliper"]["A"]["relief_mm"]
    assert revision.marks["examined"]["1"]["tissue"] == "firm"
    assert draft["photos"][0]["x_help"] == {"outer_rim": "traced", "inner_rim": "traced"}
    (placement,) = revision.marks["photos"][0]["placements"]
    assert placement["outline"] == ["exit"]
