"""The marking on a large photo: a preview first, tiles where one looks closer, true to the pixel.

The photo is made here: discs whose centres are known, one of them across the corner of four
tiles.  Its sides are no multiples of the preview's.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image

from tests.browser.marking_hand import FOCUSED, Bench, Fingers, Point, draw_photo, off

if TYPE_CHECKING:
    from playwright.sync_api import Page, Request, Route

pytestmark = pytest.mark.browser

APP = Path(__file__).with_name("marking_app.py")
SIZE = (4031, 3023)
RADIUS = 38.0
DISCS: tuple[Point, ...] = (
    (780.30, 1060.75),
    (1410.85, 590.40),
    (2047.60, 1023.30),
    (2980.15, 1140.20),
)
SHIFTS = (-1.0, -0.5, -0.25, 0.0, 0.25, 0.5, 1.0)

SEAM = 2
"""The disc across the corner of four tiles."""

TILE = re.compile(r"/photo/[0-9a-f]+/(\d+_\d+)\.jpg$")

Visit = Callable[..., Bench]


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("large")
    drawn = folder / "drawn.jpg"
    draw_photo(drawn, SIZE, DISCS, RADIUS, quality=95, subsampling=0)
    return drawn.rename(folder / sha256(drawn.read_bytes()).hexdigest())


@pytest.fixture(scope="module")
def url(serve: Callable[..., str], photo: Path) -> str:
    return serve(APP, env={"MARKING_BENCH": os.fspath(photo.parent)})


@pytest.fixture
def visit(
    url: str, photo: Path, open_page: Callable[..., Page], request: pytest.FixtureRequest
) -> Visit:
    case = re.sub(r"\W+", "-", request.node.name)

    def start(
        dpr: float = 1,
        marks: dict[str, Any] | None = None,
        before: Callable[[Page], None] = lambda page: None,
        **options: Any,
    ) -> Bench:
        if marks is not None:
            (photo.parent / f"{case}.json").write_text(json.dumps({"marks": marks}), "utf-8")
        page = open_page("about:blank", dpr=dpr, **options)
        before(page)
        page.goto(f"{url}/?case={case}&large={photo.name}")
        return Bench(page, dpr)

    return start


def tiles(page: Page, asked: list[str]) -> None:
    """Note the names of the tiles that the page asks for, as they are asked for."""

    def note(request: Request) -> None:
        found = TILE.search(request.url)
        if found:
            asked.append(found[1])

    page.on("request", note)


def sharp(bench: Bench) -> None:
    """Wait until everything in sight is drawn from the photo's own pixels."""
    bench.page.wait_for_selector('.marking[data-sharp="yes"]')
    bench.settled()


@pytest.mark.parametrize("touch", [False, True])
@pytest.mark.parametrize("dpr", [1, 2, 3])
def test_marks_are_true_whole_and_zoomed(visit: Visit, dpr: int, touch: bool) -> None:
    options = {"width": 1024, "height": 768} if touch else {}
    bench = visit(dpr, touch=touch, dark=dpr == 2, **options)
    fingers = Fingers(bench.page) if touch else None
    tap = bench.page.touchscreen.tap if touch else bench.page.mouse.click
    seen = bench.discs()
    assert len(seen) == len(DISCS)
    for at in seen:
        tap(*at)
    marks = bench.sent(lambda m: len(m.get("outer_rim", ())) == len(DISCS))
    errors = [off(got, true) for got, true in zip(marks["outer_rim"], DISCS, strict=True)]
    assert max(errors) < 0.5

    bench.button("clear").click()
    bench.step("entry")
    for spot, disc in (("entry", 1), ("exit", SEAM)):
        bench.button("fit").click()
        if fingers:
            fingers.spread(seen[disc], 12)
        else:
            bench.zoom_at(seen[disc], 5)
        sharp(bench)
        tap(*bench.disc(seen[disc]))
        marks = bench.sent(lambda m, spot=spot: bool(m.get("placements", [{}])[0].get(spot)))
        assert off(marks["placements"][0][spot], DISCS[disc]) < 0.1


def test_the_preview_can_be_marked_before_any_tile_is_there(visit: Visit) -> None:
    waiting: list[Route] = []

    def hold(page: Page) -> None:
        page.route(TILE, lambda route: waiting.append(route))  # noqa: PLW0108

    bench = visit(2, before=hold)
    assert bench.box.evaluate("box => box.querySelector('canvas').width") > 0
    bench.step("entry")
    at = bench.discs()[1]
    bench.zoom_at(at, 3)
    bench.page.wait_for_selector('.marking[data-sharp="no"]')
    bench.page.mouse.click(*bench.disc(at))
    marks = bench.sent(lambda m: "placements" in m)
    assert off(marks["placements"][0]["entry"], DISCS[1]) < 0.25
    assert waiting
    for route in waiting:
        route.continue_()
    bench.page.unroute_all(behavior="wait")


def test_tiles_are_fetched_only_where_they_are_needed(visit: Visit) -> None:
    asked: list[str] = []
    bench = visit(1, before=lambda page: tiles(page, asked))
    assert asked == []
    seen = bench.discs()
    bench.step("entry")
    bench.page.mouse.click(*seen[0])
    bench.sent(lambda m: "placements" in m)
    assert set(asked) <= {"0_1"}  # what the loupe would have shown, had the hand stayed down
    asked.clear()

    # A drag on the whole photo: only what the loupe shows.
    bench.page.mouse.move(*seen[0])
    bench.page.mouse.down()
    bench.page.mouse.move(*seen[SEAM], steps=2)
    bench.page.wait_for_function("() => !document.querySelector('.marking .loupe')?.hidden")
    bench.settled()
    bench.page.mouse.up()
    bench.sent(lambda m: off(m["placements"][0]["entry"], DISCS[SEAM]) < 0.5)
    asked.clear()

    # Closer: the tiles in sight, each of them once.
    bench.zoom_at(seen[3], 3)
    sharp(bench)
    assert "3_1" in asked
    assert len(set(asked)) == len(asked) <= 6
    asked.clear()
    bench.button("fit").click()
    bench.zoom_at(seen[3], 3)
    sharp(bench)
    assert asked == []


def test_tiles_lie_exactly_on_the_preview(visit: Visit) -> None:
    """The same view without and with tiles: nothing moves when they arrive."""
    held: list[Route] = []

    def hold(page: Page) -> None:
        page.route(TILE, lambda route: held.append(route))  # noqa: PLW0108

    bench = visit(2, before=hold)
    before = bench.discs()
    at = before[SEAM]
    bench.zoom_at(at, 2)
    bench.page.wait_for_selector('.marking[data-sharp="no"]')
    coarse = bench.disc(at)
    for route in held:
        route.continue_()
    bench.page.unroute_all(behavior="wait")
    sharp(bench)
    fine = bench.disc(at)
    scale = off(before[0], before[3]) / off(DISCS[0], DISCS[3]) * 2.8  # two turns of the wheel
    assert off(coarse, fine) / scale < 0.1  # of the photo's pixels


def test_a_tile_that_fails_is_asked_for_again(visit: Visit) -> None:
    failed: list[str] = []

    def fail_once(route: Route) -> None:
        if route.request.url in failed:
            route.continue_()
            return
        failed.append(route.request.url)
        route.abort()

    bench = visit(before=lambda page: page.route(TILE, fail_once))
    bench.zoom_at(bench.discs()[1], 4)
    sharp(bench)
    assert failed


PLACES = {"middle": (0.5, 0.5), "left": (0.03, 0.5), "right": (0.97, 0.5)} | {
    f"{row} {column}": (x, y)
    for row, y in (("top", 0.03), ("bottom", 0.97))
    for column, x in (("left", 0.03), ("middle", 0.5), ("right", 0.97))
}


@pytest.mark.parametrize(("width", "height"), [(1024, 768), (390, 844)])
def test_the_loupe_is_beside_the_finger_and_in_sight(visit: Visit, width: int, height: int) -> None:
    """On the other side near an edge; never where the finger, 11 mm across, hides it."""
    bench = visit(2, touch=True, width=width, height=height)
    fingers = Fingers(bench.page)
    loupe = bench.page.locator(".marking .loupe")
    bench.step("entry")
    (left, top), (right, bottom) = bench.corner()
    bench.zoom_at(((left + right) / 2, (top + bottom) / 2), 3)  # photo everywhere in the box
    for share_x, share_y in PLACES.values():
        (left, top), (right, bottom) = bench.corner()
        bottom = min(bottom, height)
        x, y = left + share_x * (right - left), top + share_y * (bottom - top)
        fingers.down((x, y))
        loupe.wait_for(state="visible")
        frame = loupe.bounding_box()
        fingers.up()
        assert frame is not None
        assert frame["x"] >= left
        assert frame["y"] >= top
        assert frame["x"] + frame["width"] <= right
        assert frame["y"] + frame["height"] <= bottom
        radius = frame["width"] / 2
        away = off((frame["x"] + radius, frame["y"] + radius), (x, y)) - radius
        assert away >= 35  # half of 11 mm on a tablet, at 6.3 px a millimetre
        if share_x < 0.1:
            assert frame["x"] > x
        bench.button("undo").click()


@pytest.mark.parametrize("dpr", [1, 3])
def test_the_loupe_shows_the_photos_own_pixels_round_the_mark(
    visit: Visit, photo: Path, dpr: int
) -> None:
    """Four to one about the mark: the photo as it was drawn, and nothing a quarter pixel beside."""
    bench = visit(dpr, touch=True, dark=True)
    fingers = Fingers(bench.page)
    bench.step("entry")
    seen = bench.discs()
    scale = off(seen[0], seen[3]) / off(DISCS[0], DISCS[3])
    slant = RADIUS * scale / np.sqrt(2)
    fingers.down((seen[SEAM][0] + slant, seen[SEAM][1] - slant))
    loupe = bench.page.locator(".marking .loupe")
    loupe.wait_for(state="visible")
    bench.page.wait_for_selector('.marking[data-loupe-sharp="yes"]')
    bench.settled()
    shown = bench.pixels_of(loupe)
    fingers.up()
    mark = bench.sent(lambda m: "placements" in m)["placements"][0]["entry"]
    whole = np.asarray(Image.open(photo), dtype=float)
    lines, columns = (
        (np.arange(length) + 0.5 - length / 2) / (4 * dpr) for length in shown.shape[:2]
    )
    y, x = np.meshgrid(lines, columns, indexing="ij")
    free = (np.hypot(x, y) < 16) & (abs(x) > 1.2) & (abs(y) > 1.2)  # of the ring and the cross

    def differs(dx: float, dy: float) -> float:
        rows = np.floor(mark[1] + y + dy + 0.5).astype(int)
        places = np.floor(mark[0] + x + dx + 0.5).astype(int)
        return float(np.abs(shown - whole[rows, places])[free].mean())

    shifts = {(dx, dy): differs(dx, dy) for dx in SHIFTS for dy in SHIFTS}
    assert min(shifts, key=lambda shift: shifts[shift]) == (0.0, 0.0)
    assert shifts[0.0, 0.0] < 5 < shifts[1.0, 0.0]


def test_points_are_large_enough_to_hit(visit: Visit) -> None:
    line = [[1000.0, 1500.0], [2000.0, 1400.0], [3000.0, 1500.0]]
    bench = visit(
        marks={
            "outer_rim": line,
            "placements": [{"label": "1", "entry": [2000.0, 700.0], "exit": [2050.0, 1000.0]}],
            "ties": {"1": [700.0, 700.0]},
            "head_up": [[3300.0, 900.0], [3300.0, 600.0]],
        }
    )
    points = bench.page.locator(".marking .point")
    assert points.count() == 8
    for frame in (points.nth(i).bounding_box() for i in range(8)):
        assert frame is not None
        assert min(frame["width"], frame["height"]) >= 24
    bench.step("outer_rim")  # while another mark is made, its taps pass by a line's points
    frame = bench.point("outer_rim/1").locator("circle").bounding_box()
    assert frame is not None
    x, y = frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2
    for dx, dy in ((11.5, 0), (-11.5, 0), (0, 11.5), (0, -11.5)):
        bench.page.keyboard.press("Escape")
        bench.page.mouse.click(x + dx, y + dy)
        assert bench.page.evaluate(FOCUSED).startswith("outer rim, point 2")
    assert points.count() == 8


def test_a_tap_on_a_line_puts_a_point_between(visit: Visit) -> None:
    line = [[1000.0, 1500.0], [2000.0, 1500.0], [3000.0, 1500.0]]
    bench = visit(marks={"outer_rim": line})
    bench.step("outer_rim")
    frames = [bench.point(f"outer_rim/{i}").locator("circle").bounding_box() for i in range(3)]
    (ax, ay), (bx, _), (cx, _) = [
        (f["x"] + f["width"] / 2, f["y"] + f["height"] / 2) for f in frames if f
    ]
    bench.page.mouse.click((bx + cx) / 2, ay + 4)
    bench.page.mouse.click((ax + bx) / 2, ay - 4)
    marks = bench.sent(lambda m: len(m["outer_rim"]) == 5)
    assert marks["outer_rim"] == sorted(marks["outer_rim"])
    assert [marks["outer_rim"][i] for i in (0, 2, 4)] == line
    assert off(marks["outer_rim"][1], (1500, 1500)) < 40
    said = bench.page.locator(".marking [aria-live]")
    assert said.inner_text().startswith("Added: outer rim, point 2, x 1")
    bench.button("delete").click()
    bench.sent(lambda m: len(m["outer_rim"]) == 4)
    assert said.inner_text() == "Removed: outer rim, point 2."
    bench.button("undo").click()
    bench.sent(lambda m: len(m["outer_rim"]) == 5)
    assert said.inner_text().startswith("Added: outer rim, point 2, x 1")


def place_of(bench: Bench) -> Point:
    frame = bench.point("exit/1").locator("circle").first.bounding_box()
    assert frame is not None
    return frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2


def test_keys_zoom_about_the_point_move_the_photo_and_say_what_changed(visit: Visit) -> None:
    spot = [DISCS[1][0], DISCS[1][1]]
    bench = visit(marks={"placements": [{"label": "1", "exit": spot}]})
    before = place_of(bench)
    bench.point("exit/1").focus()
    for _ in range(4):
        bench.page.keyboard.press("+")
    bench.settled()
    (left, top), (right, bottom) = bench.corner()
    zoomed = place_of(bench)
    assert off(zoomed, before) < 0.5
    assert left < zoomed[0] < right
    assert top < zoomed[1] < bottom
    said = bench.page.locator(".marking [aria-live]")
    bench.page.keyboard.press("ArrowRight")
    bench.settled()
    assert said.inner_text() == f"Moved: exit of placement 1, x {spot[0] + 1:.1f}, y 590.4."
    bench.page.keyboard.press("Shift+ArrowUp")
    bench.settled()
    assert said.inner_text() == f"Moved: exit of placement 1, x {spot[0] + 1:.1f}, y 590.3."
    bench.page.keyboard.press("Escape")
    bench.page.keyboard.press("ArrowRight")
    bench.settled()
    moved = place_of(bench)
    assert off(moved, (zoomed[0] - 48, zoomed[1])) < 8  # it was moved by a pixel of the photo too
    for _ in range(4):
        bench.page.keyboard.press("-")
    bench.settled()
    assert off(place_of(bench), before) < 1.5
    bench.page.keyboard.press("Control+z")
    bench.sent(lambda m: m["placements"][0]["exit"] == spot)
    assert said.inner_text() == f"Moved: exit of placement 1, x {spot[0]:.1f}, y 590.4."
