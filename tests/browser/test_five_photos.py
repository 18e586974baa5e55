"""Five photos of one ear, from bringing them to a signed answer measured in space.

The photos are rendered; where each pen dot is in each of them, and how long the channel is, stands
in the files beside them.  Dots are tapped in the first photo that shows them, and proposed along
their lines of sight in the others.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from rimspan.clientfile import ClientFile
from rimspan.screens.document import changed, new_document
from rimspan.screens.guide_words import mm
from tests.browser.conftest import ALEX

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_images" / "middling"
VIEWS = ("square-on", "above-1", "above-2", "below-1", "below-2")
SIDE = "right"
VIEW = """mark => { const { scale, x, y } = mark.getRootNode().rimspanMarking.view;
  return [scale, x, y]; }"""
TWO_FRAMES = "() => new Promise(f => requestAnimationFrame(() => requestAnimationFrame(f)))"
LIMIT_S = 40.0
COVERAGE = 1.96
"""An interval of 95 % reaches this many standard uncertainties to each side."""

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


def truth(view: str) -> dict[str, Any]:
    return dict(json.loads((SAMPLE / f"{view}.truth.json").read_text("utf-8")))


def spot(view: str, name: str) -> list[float]:
    """Return where a dot is in a photo, px; it must be seen there."""
    told = truth(view)
    found = (told["placements"]["A"]["points"] | told["ties"])[name]
    assert found["visible"]
    return list(found["px"])


class Chair:
    """The screens of one client's ear."""

    def __init__(self, page: Page, store: Path, client: str) -> None:
        self.page, self.store, self.client = page, store, client
        self.marks = page.locator(".marking[data-painted]")

    def draft(self) -> dict[str, Any]:
        with ClientFile.open(self.store) as file:
            return file.draft(self.client, SIDE) or {}

    def wait_for(self, happened: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Return the draft, once it is as it should be."""
        end = time.monotonic() + LIMIT_S
        while not happened(draft := self.draft()):
            assert time.monotonic() < end, f"the draft never got there: {draft}"
            self.page.wait_for_timeout(50)
        return draft

    def go(self, station: str) -> None:
        self.page.get_by_role("link", name=re.compile(f"^{station}")).first.click()

    def open(self, view: str) -> None:
        name = f"{view}.jpg"
        pick = self.page.get_by_role("radio", name=name)
        pick.or_(self.page.get_by_role("button", name=name)).first.click()
        # The photo before may stay for a moment longer.
        self.marks = self.page.locator(f'.marking[data-painted="{name}"]')
        self.marks.wait_for()

    def take(self, name: str) -> None:
        self.marks.locator(f"button[data-name={name}]").click()

    def asked(self) -> list[str]:
        """Return what this photo is asked for."""
        return self.marks.locator("[data-part=main] button").evaluate_all(
            "all => all.map(b => b.dataset.name)"
        )

    def asks_for(self, step: str) -> None:
        from playwright.sync_api import expect

        expect(self.marks).to_have_attribute("data-step", step)

    def place(self, view: str, name: str) -> tuple[float, float]:
        """Return where a dot that is seen in a photo stands in the window."""
        point = spot(view, name)
        scale, left, top = self.marks.evaluate(VIEW)
        box = self.marks.locator("[data-part=box]").bounding_box()
        assert box is not None
        return box["x"] + left + (point[0] + 0.5) * scale, box["y"] + top + (point[1] + 0.5) * scale

    def nearer(self, view: str, name: str) -> None:
        """Zoom in about a dot that has another one close by."""
        self.page.mouse.move(*self.place(view, name))
        for _ in range(3):
            self.page.mouse.wheel(0, -240)
        self.page.evaluate(TWO_FRAMES)

    def tap(self, view: str, name: str) -> None:
        """Tap a dot where it was rendered, and wait for its mark."""
        from playwright.sync_api import expect

        known = self.marks.locator("[data-part=points] [data-id]")
        count = known.count()
        self.page.mouse.click(*self.place(view, name))
        expect(known).to_have_count(count + 1)

    def accept(self, count: int) -> None:
        """Accept the dots that are proposed in a photo without marks, once that many are."""
        from playwright.sync_api import expect

        known = self.marks.locator("[data-part=points] [data-id]")
        expect(known).to_have_count(0)
        self.marks.get_by_role("button", name=f"Accept {count} dots").click()
        expect(known).to_have_count(count)  # or the next tap counts from too few

    def kept(self, view: str, spots: set[str], unseen: int = 0) -> dict[str, Any]:
        """Return the photo's part of the draft, once it has just these marks and three ties."""

        def there(draft: dict[str, Any]) -> bool:
            (photo,) = (p for p in draft["photos"] if p["file"] == f"{view}.jpg")
            (placement,) = photo.get("placements") or [{}]
            names = set(placement) & {"entry", "exit", "crest", "floor", "below"}
            there = names == spots and len(photo.get("ties", {})) == 3
            return there and len(photo.get("x_unseen", ())) == unseen

        draft = self.wait_for(there)
        (photo,) = (p for p in draft["photos"] if p["file"] == f"{view}.jpg")
        return dict(photo)


@pytest.fixture
def chair(serve: Any, open_page: Any, tmp_path: Path) -> Chair:
    store = tmp_path / "store"
    card = json.loads((SAMPLE / "marks.json").read_text("utf-8"))["card"]
    with ClientFile.open(store) as file:
        client = file.create_client("Robin Example").id
        age = {"at_least_years": 18, "identity_checked": True}
        draft = changed(new_document(SIDE), card=card, x_talk={"age": age})
        file.save_draft(client, SIDE, draft)
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    page = open_page(f"{url}/photos?client={client}&side={SIDE}", who=ALEX)
    return Chair(page, store, client)


def bring(chair: Chair) -> None:
    """Bring the photos of a card that can't move."""
    chair.page.locator("input[type=file]").set_input_files([SAMPLE / f"{v}.jpg" for v in VIEWS])
    chair.page.get_by_text("3 of 5 views. Missing: from behind the ear").wait_for()
    # These were taken straight up and down, and not steeply: a middling rim shows too little there.
    chair.page.get_by_text(re.compile(r"Next photo: .* a step to the (left|right)")).wait_for()
    chair.page.get_by_text("straight up and down").wait_for()
    chair.page.get_by_text("entry and exit need two photos each").wait_for()
    headband(chair, {"u_mm": 0.0})


def headband(chair: Chair, shift: dict[str, float] | None) -> None:
    """Say or take back that the card is on a headband."""
    chair.page.get_by_text("The card is on a headband").click()
    chair.wait_for(lambda draft: draft.get("card_shift") == shift)
    chair.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")


def foreseen_by_hand(chair: Chair) -> float:
    """Return U of the channel by hand, mm, that the guide foresees of what is marked."""
    chair.go("Photos")
    chair.page.get_by_text(re.compile("from within .* with marks by hand")).wait_for()
    fixed = foreseen(chair)
    for before, after in fixed:
        assert 0 < after < 0.9 * before
    headband(chair, None)
    chair.page.get_by_text(f"from within {mm(fixed[0][0])} to").wait_for(state="detached")
    assert foreseen(chair)[0][0] > fixed[0][0]
    headband(chair, {"u_mm": 0.0})
    return fixed[0][0]


def foreseen(chair: Chair) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return U of the channel without and with the next photo, mm, by hand and snapped."""
    said = chair.page.locator(".rim-guide").inner_text()
    read = r"([\d.]+) mm"
    found = re.search(
        f"from within {read} to {read} with marks by hand, from {read} to {read} with", said
    )
    assert found is not None, said
    first, second, third, fourth = (float(figure) for figure in found.groups())
    return (first, second), (third, fourth)


def near(photo: Mapping[str, Any], view: str, names: Iterable[str]) -> None:
    """Hold a photo's marks against where the dots were rendered."""
    (placement,) = photo["placements"]
    for name in names:
        off = np.array(placement[name]) - np.array(spot(view, name))
        assert float(np.hypot(*off)) < 1.0, (view, name)


def mark(chair: Chair) -> None:
    chair.open("square-on")
    assert chair.asked()[:2] == ["outer_rim", "inner_rim"]
    for name in ("crest", "floor"):
        chair.take(name)
        chair.tap("square-on", name)
    chair.take("tie")
    for name in ("antihelix", "lobe", "helix behind"):
        chair.tap("square-on", name)
    first = chair.kept("square-on", {"crest", "floor"})

    for view in ("above-1", "above-2"):
        chair.open(view)
        assert chair.asked() == ["entry", "crest", "floor", "below", "tie"]
        if view == "above-1":
            chair.accept(4)  # crest and spare dots: the floor is hidden
            chair.asks_for("entry")
            chair.tap(view, "entry")
        else:
            chair.accept(5)  # the entry, too, of which two photos tell the place by now
        chair.asks_for("floor")
        chair.take("unseen")
        photo = chair.kept(view, {"entry", "crest"}, unseen=1)
        assert photo["x_unseen"] == ["floor/1"]
        assert set(photo["ties"]) == set(first["ties"])
        near(photo, view, ("entry", "crest"))

    chair.open("below-1")
    assert chair.asked() == ["exit", "floor", "below", "crest", "tie"]
    chair.accept(5)
    chair.asks_for("exit")
    chair.nearer("below-1", "exit")  # the floor's dot is 1 mm away
    chair.tap("below-1", "exit")
    chair.kept("below-1", {"exit", "floor", "crest"})
    chair.open("below-2")
    chair.accept(6)
    photo = chair.kept("below-2", {"exit", "floor", "crest"})
    (placement,) = photo["placements"]
    assert set(placement["snapped"]) == {"exit", "floor", "crest"}
    near(photo, "below-2", placement["snapped"])
    chair.page.locator(".rim-live").get_by_text("channel").wait_for()


def test_five_photos_are_measured_in_space_and_signed(chair: Chair) -> None:
    bring(chair)
    chair.go("Marks")
    mark(chair)
    by_hand_mm = foreseen_by_hand(chair)
    chair.go("Sign")
    chair.page.get_by_text("I examined this ear myself, and I decide.").click()
    chair.page.get_by_role("button", name="Save the assessment").click()
    chair.page.get_by_text("Saved as revision 1.").wait_for()

    with ClientFile.open(chair.store) as file:
        (revision,) = file.revisions(chair.client)
    assert revision.confirmed_by == ALEX
    assert revision.marks["card_shift"] == {"u_mm": 0.0}
    (found,) = revision.result["placements"]
    assert found["method"] == "views"
    true = truth("square-on")["placements"]["A"]
    assert found["channel"]["low"] < true["channel_mm"] < found["channel"]["high"]
    # The entries were marked by hand, all else was snapped.
    assert COVERAGE * found["channel"]["u"] < 1.1 * by_hand_mm
    # Along the card's normal, a few degrees off the ear's own, along which the truth counts.
    depth = [true["points"][name]["card_mm"][2] for name in ("floor", "crest")]
    assert found["relief"]["low"] < depth[0] - depth[1] < found["relief"]["high"]
