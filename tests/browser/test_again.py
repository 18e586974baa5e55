"""Marking again in a browser: the same points anew, their mean measured and saved.

Where a tap lands is known from the photo's own size and the box's place; how far the taps of
the passes lie apart is chosen here, so that the mean and the scatter are known by hand.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, urlencode

import numpy as np
import pytest

from assess.marks import CardMarks
from assess.read_marks import parse_marks
from assess.reading import U_MARK_MM, read_view
from assess.repeatability import pooled_scatter
from calibration.card import FRAME
from calibration.photo import read_photo
from rimspan.clientfile import ClientFile
from rimspan.screens.document import new_document, with_photo
from rimspan.screens.help_route import PATH

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]

ROOT = Path(__file__).resolve().parents[2]
PHOTO = ROOT / "sample_images" / "pronounced" / "square-on.jpg"
SIZE = (2000, 1500)
ALEX, KIM = "Alex Invented", "Kim Sample"
TABLET = {"width": 1024, "height": 768, "touch": True}

Point = tuple[float, float]
SHIFTS: tuple[Point, ...] = ((0.0, 0.0), (2.4, 0.0), (0.0, 2.4))
"""How far each pass is tapped from the first, px; 1.4 px of scatter, under 0.2 mm here."""


def spots() -> dict[str, Point]:
    """Return places on the plain skin before the ear, px: no pen dot is near, so no tap snaps."""
    return {"entry": (250.0, 500.0), "exit": (262.0, 560.0), "below": (274.0, 620.0)}


class Chair:
    """A visit to the Marks page of one ear."""

    def __init__(self, page: Page, file: ClientFile, client: str, touch: bool) -> None:
        self.page, self.file, self.client, self.touch = page, file, client, touch
        self.painted()

    def painted(self) -> None:
        self.page.wait_for_selector(".marking[data-painted]")
        self.button("fit").click()

    def button(self, name: str) -> Locator:
        return self.page.locator(f'.marking button[data-name="{name}"]')

    @property
    def points(self) -> Locator:
        return self.page.locator(".marking [data-part=points] [data-id]")

    def says(self, words: str) -> None:
        """Wait for the line above the photo."""
        self.page.locator(".marking [data-part=hint]").filter(has_text=words).wait_for()

    def sees(self, words: str) -> None:
        self.page.get_by_text(words).first.wait_for()

    def tap(self, at: Point) -> None:
        """Tap a pixel of the photo, which is fitted into its box, and wait for its mark."""
        from playwright.sync_api import expect

        count = self.points.count()
        box = self.page.locator(".marking [data-part=box]").bounding_box()
        assert box is not None
        scale = min(box["width"] / SIZE[0], box["height"] / SIZE[1])
        left = box["x"] + (box["width"] - SIZE[0] * scale) / 2
        top = box["y"] + (box["height"] - SIZE[1] * scale) / 2
        place = (left + (at[0] + 0.5) * scale, top + (at[1] + 0.5) * scale)
        if self.touch:
            self.page.touchscreen.tap(*place)
        else:
            self.page.mouse.click(*place)
        expect(self.points).to_have_count(count + 1)

    def mark(self, number: int, names: tuple[str, ...] = ("entry", "exit", "below")) -> None:
        """Tap the points as pass ``number`` has them."""
        for name in names:
            x, y = spots()[name]
            dx, dy = SHIFTS[number - 1]
            self.tap((x + dx, y + dy))

    def point(self, kind: str) -> Locator:
        return self.page.locator(f'.marking .point[data-id="{kind}/1"]')

    def mark_again(self) -> None:
        self.page.get_by_role("button", name="Mark again", exact=True).click()
        self.button("fit").click()

    def entry(self) -> dict[str, Any]:
        (photo,) = (self.file.draft(self.client, "left") or {})["photos"]
        return dict(photo)

    def kept(self, ready: Callable[[dict[str, Any]], Any]) -> dict[str, Any]:
        """Return the photo's part of the draft once it is as it should be."""
        end = time.monotonic() + 15
        while not ready(found := self.entry()):
            assert time.monotonic() < end, found
            time.sleep(0.05)
        return found

    def past(self, by: str, count: int) -> None:
        """Wait until so many marks of a piercer's past are kept, which comes after the draft."""
        end = time.monotonic() + 15
        while len(found := self.file.repeats.samples(by)) != count:
            assert time.monotonic() < end, found
            time.sleep(0.05)


Sit = Callable[..., Chair]


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    """Return a server, and its store, for all to whom no other test's marks matter."""
    store = tmp_path_factory.mktemp("again") / "store"
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


@pytest.fixture
def alone(serve: Any, tmp_path: Path) -> tuple[str, Path]:
    """Return a server and its store where nobody has marked anything before."""
    store = tmp_path / "store"
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


def sitting(url: str, store: Path, open_page: Any) -> Iterator[Sit]:
    """Yield ``sit(who, marks, at, **page options) -> Chair``: a new client's ear with one photo.

    The Marks page is served ``at`` that address, or else where all of the test's visits are.
    """
    with ClientFile.open(store) as file:
        client = file.create_client("Robin Example (invented)").id
        kept = file.add_photo(client, PHOTO.read_bytes(), "ear.jpg", "left")
        fresh = with_photo(new_document("left"), "ear.jpg", kept.sha256)

        def open_chair(who: str = ALEX, marks: Any = None, at: str = url, **options: Any) -> Chair:
            if file.draft(client, "left") is None:
                fresh["photos"][0] |= marks or {}
                fresh["x_talk"] = {"age": {"at_least_years": 18, "identity_checked": True}}
                file.save_draft(client, "left", fresh)
            address = urlencode({"client": client, "side": "left"})
            page = open_page(f"{at}/marks?{address}", who=who, **options)
            return Chair(page, file, client, bool(options.get("touch")))

        yield open_chair


@pytest.fixture
def sit(studio: tuple[str, Path], open_page: Any) -> Iterator[Sit]:
    yield from sitting(*studio, open_page)


@pytest.fixture
def sit_alone(alone: tuple[str, Path], open_page: Any) -> Iterator[Sit]:
    yield from sitting(*alone, open_page)


def marked(**changes: Any) -> dict[str, Any]:
    """Return marks as somebody has put them before."""
    return {"placements": [{"label": "1"} | {k: list(at) for k, at in spots().items()} | changes]}


def three_passes(chair: Chair) -> None:
    """Mark the points for the first time, then twice again; a reload in the second pass."""
    chair.button("entry").click()
    chair.mark(1)
    once = chair.kept(lambda p: "below" in p.get("placements", [{}])[0])["placements"]
    chair.mark_again()
    chair.says("Pass 2: entry of placement 1; mark it as if for the first time.")
    assert chair.points.count() == 0
    chair.sees("A pass is under way.")
    assert chair.page.locator(".rim-live").count() == 0
    chair.mark(2, ("entry",))
    chair.says("Pass 2: exit of placement 1; mark it as if for the first time.")
    before = chair.kept(lambda p: p.get("x_again", {}).get("placements"))

    chair.page.reload()
    chair.painted()
    chair.says("Pass 2: exit of placement 1; mark it as if for the first time.")
    assert chair.points.count() == 1
    assert chair.entry() == before
    assert before["placements"] == once
    assert [each["by"] for each in before["x_passes"]] == [ALEX]

    chair.mark(2, ("exit", "below"))
    chair.says("Pass 2 has all its points.")
    chair.kept(lambda p: len(p["x_passes"]) == 2)
    chair.button("next_pass").click()
    chair.button("fit").click()
    chair.says("Pass 3: entry of placement 1; mark it as if for the first time.")
    chair.mark(3)
    chair.says("Pass 3 has all its points.")
    chair.button("end_pass").click()
    found = chair.kept(lambda p: "x_again" not in p)
    assert [each["by"] for each in found["x_passes"]] == [ALEX] * 3
    assert found["placements"] == found["x_passes"][0]["placements"] == once


def means(photo: dict[str, Any]) -> dict[str, Any]:
    """Return the mean of the passes for each point, px."""
    passes = [each["placements"][0] for each in photo["x_passes"]]
    return {kind: np.mean([p[kind] for p in passes], axis=0) for kind in spots()}


@pytest.mark.parametrize("options", [{}, TABLET], ids=["mouse", "touch"])
def test_the_mean_of_three_passes_is_shown_measured_and_saved(
    sit_alone: Sit, options: dict[str, Any]
) -> None:
    chair = sit_alone(**options)
    three_passes(chair)
    photo = chair.entry()
    chair.sees("Marked 3 times by Alex Invented.")  # what stands here was kept before
    scatter = pooled_scatter(chair.file.repeats.samples(ALEX))
    assert scatter is not None
    assert (scatter.dof, scatter.points) == (12, 3)
    chair.sees(f"Own repeatability: {scatter.s_mm:.2f} mm across and down, with 12 degrees")
    chair.sees("It takes the place of the assumed 0.2 mm.")
    chair.sees("Apart from it stands 0.1 mm where two good piercers would differ")
    for kind, mean in means(photo).items():
        said = str(chair.point(kind).get_attribute("aria-label"))
        assert said.startswith(("entry", "exit", "next below"))
        assert "mean of 3 marks" in said
        at = [float(v) for v in re.findall(r"[xy] ([\d.]+)", said)]
        np.testing.assert_allclose(at, mean, atol=0.06)
    assert chair.page.locator(".marking .first").count() == 3

    chair.page.get_by_role("link", name=re.compile("^Sign")).first.click()
    chair.page.get_by_text("I examined this ear myself, and I decide.").click()
    chair.page.get_by_role("button", name="Save the assessment").click()
    chair.sees("Saved as revision 1.")
    (revision,) = chair.file.revisions(chair.client)
    parse_marks(revision.marks)  # plain rimspan-marks/1
    (saved,) = revision.marks["photos"]
    assert not [name for name in saved if name.startswith("x_")]
    for kind, mean in means(photo).items():
        np.testing.assert_allclose(saved["placements"][0][kind], mean, atol=1e-9)
    reading = read_view(read_photo(PHOTO.read_bytes()), file="ear.jpg", card=CardMarks(id=FRAME.id))
    assert saved["sigma_px"] < U_MARK_MM / reading.mm_per_px(0.0)


def test_a_pass_left_early_keeps_its_points_and_is_made_up_for(
    sit: Sit, studio: tuple[str, Path], serve: Any
) -> None:
    chair = sit(marks=marked())
    chair.mark_again()
    chair.mark(2, ("entry",))
    chair.kept(lambda p: p.get("x_again", {}).get("placements"))
    chair.button("undo").click()
    chair.says("Pass 2: entry of placement 1")
    chair.kept(lambda p: p["x_again"]["placements"] == [])
    chair.mark(2, ("entry",))
    chair.kept(lambda p: p["x_again"]["placements"])
    chair.page.close()

    # Another server, as after the first was killed: nothing but the store knows of the pass.
    another = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(studio[1])})
    chair = sit(at=another)
    chair.says("Pass 2: exit of placement 1; mark it as if for the first time.")
    assert chair.points.count() == 1
    chair.page.get_by_role("button", name="Stop here, keep these").click()
    found = chair.kept(lambda p: "x_again" not in p)
    assert [set(each["placements"][0]) for each in found["x_passes"]] == [
        {"label", "entry", "exit", "below"},
        {"label", "entry"},
    ]
    chair.sees("Marked less often, or moved since: exit of placement 1, below of placement 1.")
    assert chair.points.count() == 3
    chair.mark_again()
    chair.says("Pass 2: exit of placement 1")
    chair.mark(2, ("exit", "below"))
    chair.says("Pass 2 has all its points.")
    chair.button("end_pass").click()
    chair.sees("Marked twice by Alex Invented. The mean counts; the first marks are drawn faint.")


def test_a_first_mark_that_is_moved_counts_once_until_it_is_marked_again(sit: Sit) -> None:
    chair = sit(marks=marked())
    chair.mark_again()
    chair.mark(2)
    chair.button("end_pass").click()
    chair.sees("Marked twice by Alex Invented.")
    before = means(chair.entry())["exit"]
    chair.point("exit").focus()
    chair.page.keyboard.press("ArrowRight")
    moved = chair.kept(lambda p: p["placements"][0]["exit"] != list(spots()["exit"]))
    # It moves from where it is drawn, from the mean.
    np.testing.assert_allclose(moved["placements"][0]["exit"], np.add(before, (1, 0)), atol=0.002)
    chair.sees("Marked less often, or moved since: exit of placement 1.")
    assert "mean" not in str(chair.point("exit").get_attribute("aria-label"))
    assert "mean of 2 marks" in str(chair.point("entry").get_attribute("aria-label"))
    chair.mark_again()
    chair.says("Pass 2: exit of placement 1")
    chair.mark(2, ("exit",))
    chair.says("Pass 2 has all its points.")
    chair.button("end_pass").click()
    chair.sees("Marked twice by Alex Invented. The mean counts; the first marks are drawn faint.")


def test_what_is_snapped_is_not_asked_and_edges_are_named(sit: Sit) -> None:
    marks = marked(snapped=["entry"], u_px=0.3, outline=["exit"])
    chair = sit(marks=marks)
    chair.mark_again()
    chair.says("Pass 2: exit of placement 1, on the visible edge; mark it as if")
    chair.says("Entry of placement 1: snapped to its dot: no need.")
    chair.mark(2, ("exit", "below"))
    chair.button("end_pass").click()
    found = chair.kept(lambda p: "x_again" not in p and "x_passes" in p)
    assert found["placements"] == marks["placements"]
    assert found["x_passes"][1]["placements"][0]["outline"] == ["exit"]
    assert "entry" not in found["x_passes"][1]["placements"][0]
    assert "snapped" in str(chair.point("entry").get_attribute("aria-label"))


def test_a_pass_gets_no_help_with_dots(sit: Sit) -> None:
    truth = json.loads(PHOTO.with_suffix(".truth.json").read_text("utf-8"))
    x, y = truth["placements"]["A"]["points"]["crest"]["px"]
    chair = sit(marks=marked())
    asked: list[str] = []
    chair.page.on("request", lambda request: asked.append(request.url))
    chair.mark_again()
    chair.tap((x, y))  # on a pen dot
    chair.says("Pass 2: exit of placement 1")
    chair.mark(2, ("exit", "below"))
    chair.button("end_pass").click()
    found = chair.kept(lambda p: "x_again" not in p and "x_passes" in p)
    assert not [name for name in found["x_passes"][1]["placements"][0] if "snap" in name]
    assert not [url for url in asked if url.endswith(PATH)]

    # Outside of a pass the same dot is found, so its absence there says something.
    chair.button("another").click()
    chair.tap((x, y))
    chair.kept(lambda p: p["placements"][-1].get("snapped") == ["entry"])
    assert [url for url in asked if url.endswith(PATH)]


def test_where_all_is_snapped_nothing_is_asked(sit: Sit) -> None:
    chair = sit(marks=marked(snapped=["entry", "exit", "below"], u_px=0.3))
    chair.sees("Snapped to their dots: no need to mark them again.")
    assert chair.button("again").is_hidden()


def test_another_piercers_passes_are_their_own(sit: Sit) -> None:
    chair = sit(KIM, marks=marked() | {"x_marked_by": ALEX})
    chair.page.get_by_role("button", name="Mark again", exact=True).click()
    chair.says(f"Pass 1 by {KIM}: entry of placement 1")
    chair.button("fit").click()
    chair.mark(2)
    chair.button("next_pass").click()
    chair.button("fit").click()
    chair.says(f"Pass 2 by {KIM}: entry of placement 1")
    chair.mark(3)
    chair.button("end_pass").click()
    found = chair.kept(lambda p: "x_again" not in p and "x_passes" in p)
    assert [each["by"] for each in found["x_passes"]] == [ALEX, KIM, KIM]
    chair.sees("channel")  # the numbers are back
    chair.past(KIM, 6)
    assert "mean" not in str(chair.point("entry").get_attribute("aria-label"))
    assert quote(KIM.split(maxsplit=1)[0]) not in chair.page.url


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (390, 844)])
def test_what_a_pass_needs_is_large_and_in_the_page(sit: Sit, width: int, height: int) -> None:
    chair = sit(marks=marked(), width=width, height=height, touch=True)

    def sizes() -> list[list[float]]:
        shown = chair.page.locator(".marking [data-part=again] :is(button, input):visible")
        found: list[list[float]] = shown.evaluate_all(
            "all => all.map(b => [b.offsetHeight, b.getBoundingClientRect().right])"
        )
        return found

    chair.page.get_by_role("button", name="Mark again", exact=True).click()
    chair.says("Pass 2: entry of placement 1")
    running = sizes()
    assert len(running) == 1
    assert all(high >= 44 and right <= width for high, right in running)
    assert chair.page.evaluate("() => document.documentElement.scrollWidth") <= width
    chair.page.get_by_role("button", name="Leave", exact=True).click()
    chair.sees("channel")
    chair.kept(lambda p: "x_again" not in p and "x_passes" not in p)


def test_five_times_is_enough(sit: Sit) -> None:
    marks = marked()
    passes = [{"by": ALEX, "placements": marks["placements"]}] * 4
    chair = sit(marks=marks | {"x_passes": passes})
    chair.mark_again()
    chair.says("Pass 5: entry of placement 1")
    chair.mark(2)
    chair.says("Pass 5 has all its points.")
    assert chair.button("next_pass").is_hidden()
    chair.button("end_pass").click()
    chair.kept(lambda p: len(p["x_passes"]) == 5 and "x_again" not in p)
    again = chair.page.get_by_role("button", name="Mark again", exact=True)
    assert again.is_disabled()
    assert again.get_attribute("title") == "Marked 5 times, which is enough."
