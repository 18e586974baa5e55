"""The marking component under a real pointer, real touch and real keys.

The photo is small enough to be shown whole (large ones: test_marking_exact.py).  It is made here:
discs whose centres are known.  Where a disc stands on the screen is read from a screenshot, so
nothing of the component's own arithmetic is taken on trust.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from assess.read_marks import parse_marks
from tests.browser.marking_hand import DEEP, FOCUSED, MID, PALE, Bench, Point, draw_photo, off

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

OpenPage = Callable[..., "Page"]
Visit = Callable[..., "Bench"]

SCRIPT = Path(__file__).with_name("marking_bench.py")
SIZE = (1600, 1200)
RADIUS = 11.0
DISCS: tuple[Point, ...] = ((310.30, 420.75), (560.85, 233.40), (905.15, 240.60), (1210.5, 452.2))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("marking")
    draw_photo(made / "photo.png", SIZE, DISCS, RADIUS)
    Image.new("RGB", (900, 1200), MID).save(made / "other.png")
    return made


@pytest.fixture(scope="module")
def url(serve: Callable[..., str], folder: Path) -> str:
    return serve(SCRIPT, env={"MARKING_BENCH": os.fspath(folder)})


@pytest.fixture
def visit(url: str, open_page: OpenPage, request: pytest.FixtureRequest) -> Visit:
    case = re.sub(r"\W+", "-", request.node.name)

    def start(dpr: float = 1, marks: dict[str, Any] | None = None, **options: Any) -> Bench:
        if marks is not None:
            folder = request.getfixturevalue("folder")
            (folder / f"{case}.json").write_text(json.dumps({"marks": marks}), "utf-8")
        return Bench(open_page(f"{url}/?case={case}", dpr=dpr, **options), dpr)

    return start


@pytest.mark.parametrize("touch", [False, True])
@pytest.mark.parametrize("dpr", [1])
def test_taps_are_true_on_the_whole_photo(visit: Visit, dpr: int, touch: bool) -> None:
    bench = visit(dpr, touch=touch)
    seen = bench.discs()
    assert len(seen) == len(DISCS)
    for at in seen:
        bench.page.touchscreen.tap(*at) if touch else bench.page.mouse.click(*at)
    marks = bench.sent(lambda m: len(m.get("outer_rim", ())) == len(DISCS))
    worst = max(off(got, true) for got, true in zip(marks["outer_rim"], DISCS, strict=True))
    assert worst < 0.5


@pytest.mark.parametrize("dpr", [3])
def test_taps_are_true_zoomed_in(visit: Visit, dpr: int) -> None:
    bench = visit(dpr)
    bench.step("entry")
    at = bench.discs()[1]
    bench.zoom_at(at, 5)
    bench.page.mouse.click(*bench.disc(at))
    marks = bench.sent(lambda m: "placements" in m)
    assert off(marks["placements"][0]["entry"], DISCS[1]) < 0.1


def test_the_wheel_zooms_about_the_pointer(visit: Visit) -> None:
    bench = visit()
    before = bench.discs()
    bench.zoom_at(before[2], 2)
    after = bench.disc(before[2])
    assert off(list(after), before[2]) < 0.3
    bench.button("fit").click()
    assert np.allclose(bench.discs(), before, atol=0.1)


def test_two_fingers_zoom_about_their_middle(visit: Visit) -> None:
    bench = visit(touch=True, width=1024, height=768)
    before = bench.discs()
    middle = ((before[1][0] + before[2][0]) / 2, (before[1][1] + before[2][1]) / 2)
    cdp = bench.page.context.new_cdp_session(bench.page)

    def fingers(kind: str, half: float | None) -> None:
        spots = [] if half is None else [middle[0] - half, middle[0] + half]
        points = [{"x": x, "y": middle[1], "id": i} for i, x in enumerate(spots)]
        cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    fingers("touchStart", 60)
    for half in (70.0, 80.0, 90.0):
        fingers("touchMove", half)
    fingers("touchEnd", None)
    after = bench.discs()
    ratio = (after[-1][0] - after[0][0]) / (before[-1][0] - before[0][0])
    pair = [bench.disc((middle[0] + 1.5 * (b[0] - middle[0]), b[1])) for b in before[1:3]]
    assert bench.page.locator(".point").count() == 0
    assert off([(pair[0][0] + pair[1][0]) / 2, (pair[0][1] + pair[1][1]) / 2], middle) < 0.5
    assert len(after) < len(DISCS) or ratio == pytest.approx(1.5, abs=0.01)
    assert pair[1][0] - pair[0][0] == pytest.approx(1.5 * (before[2][0] - before[1][0]), abs=0.5)


def test_a_drag_moves_a_point_and_can_be_taken_back(visit: Visit) -> None:
    bench = visit()
    bench.step("exit")
    seen = bench.discs()
    bench.page.mouse.click(*seen[1])
    bench.sent(lambda m: "placements" in m)
    bench.page.mouse.move(*seen[1])
    bench.page.mouse.down()
    bench.page.mouse.move(seen[1][0] + 40, seen[1][1] + 30, steps=3)
    assert bench.page.locator(".marking .loupe").is_visible()
    bench.page.mouse.move(*seen[2])
    bench.page.mouse.up()
    assert not bench.page.locator(".marking .loupe").is_visible()

    def at(true: Point) -> Callable[[dict[str, Any]], bool]:
        return lambda m: bool(m.get("placements")) and off(m["placements"][0]["exit"], true) < 0.5

    bench.sent(at(DISCS[2]))
    bench.button("undo").click()
    bench.sent(at(DISCS[1]))
    bench.page.keyboard.press("Control+Shift+z")
    bench.sent(at(DISCS[2]))
    bench.page.keyboard.press("Control+z")
    bench.page.keyboard.press("Control+z")
    bench.sent(lambda m: not m)
    assert bench.button("undo").is_disabled()


def test_a_finger_on_an_empty_place_moves_the_photo(visit: Visit) -> None:
    bench = visit(touch=True)
    at = bench.discs()[1]
    bench.zoom_at(at, 2)
    before = bench.disc(at)
    cdp = bench.page.context.new_cdp_session(bench.page)
    start = (before[0] + 90, before[1] + 60)
    for kind, move in (("touchStart", 0), ("touchMove", 30), ("touchMove", 50), ("touchEnd", None)):
        spots = [] if move is None else [{"x": start[0] - move, "y": start[1]}]
        cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": spots})
    after = bench.disc((before[0] - 50, before[1]))
    assert off(list(after), (before[0] - 50, before[1])) < 0.3
    assert bench.page.locator(".point").count() == 0


def test_holding_sets_a_point_under_the_loupe(visit: Visit) -> None:
    bench = visit(touch=True)
    bench.step("below")
    at = bench.discs()[1]
    cdp = bench.page.context.new_cdp_session(bench.page)
    off_by = (at[0] + 12, at[1] - 7)
    cdp.send(
        "Input.dispatchTouchEvent",
        {"type": "touchStart", "touchPoints": [{"x": off_by[0], "y": off_by[1]}]},
    )
    bench.page.locator(".marking .loupe").wait_for(state="visible")
    cdp.send(
        "Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": at[0], "y": at[1]}]}
    )
    cdp.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    marks = bench.sent(lambda m: "placements" in m)
    assert off(marks["placements"][0]["below"], DISCS[1]) < 0.5
    bench.button("undo").click()
    bench.sent(lambda m: not m)


def test_keys_do_what_a_pointer_does(visit: Visit) -> None:
    line = [[300.0, 400.0], [500.0, 300.0], [700.0, 280.0]]
    bench = visit(
        marks={"outer_rim": line, "placements": [{"label": "A", "entry": [812.3, 640.1]}]}
    )
    heard = (
        "() => { window.heard = []; document.addEventListener('keydown', e => heard.push(e.key)) }"
    )
    bench.page.evaluate(heard)
    bench.box.focus()
    labels = []
    for _ in range(4):
        bench.page.keyboard.press("Tab")
        labels.append(bench.page.evaluate(FOCUSED))
    assert labels[0] == "outer rim, point 1, x 300.0, y 400.0"
    assert labels[3] == "entry of placement A, x 812.3, y 640.1"
    for key in ("ArrowRight", "ArrowDown", "Shift+ArrowRight", "Alt+ArrowUp", "r"):
        bench.page.keyboard.press(key)
    bench.sent(lambda m: off(m["placements"][0]["entry"], (813.4, 641.0)) < 0.002)
    assert bench.page.evaluate(FOCUSED) == "entry of placement A, x 813.4, y 641.0"
    bench.page.keyboard.press("Delete")
    bench.sent(lambda m: "placements" not in m and m["outer_rim"] == line)
    bench.page.keyboard.press("0")
    bench.page.keyboard.press("Enter")
    marks = bench.sent(lambda m: "placements" in m)
    assert off(marks["placements"][0]["entry"], ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)) < 1
    assert bench.page.evaluate("() => heard") == []


def test_a_reload_keeps_the_marks(visit: Visit) -> None:
    bench = visit()
    for at in bench.discs():
        bench.page.mouse.click(*at)
    bench.sent(lambda m: len(m.get("outer_rim", ())) == len(DISCS))
    labels = bench.page.locator(".point").evaluate_all("all => all.map(p => p.ariaLabel)")
    bench.page.reload()
    bench.wait_until_painted()
    bench.settled()
    again = bench.page.locator(".point").evaluate_all("all => all.map(p => p.ariaLabel)")
    assert len(labels) == len(DISCS)
    assert again == labels


def test_the_ear_is_shown_first_where_it_is_marked(visit: Visit) -> None:
    bench = visit(marks={"outer_rim": [list(at) for at in DISCS[:3]]})
    (left, top), (right, bottom) = bench.corner()
    frames = [bench.point(f"outer_rim/{i}").bounding_box() for i in range(3)]
    places = [(f["x"] + f["width"] / 2, f["y"] + f["height"] / 2) for f in frames if f]
    assert len(places) == 3
    assert all(left < x < right and top < y < bottom for x, y in places)
    assert places[2][0] - places[0][0] > 0.5 * (right - left)


def test_python_replaces_the_marks_only_by_a_newer_revision_or_another_photo(visit: Visit) -> None:
    bench = visit()
    at = bench.discs()[0]
    bench.page.mouse.click(*at)
    bench.sent(lambda m: len(m.get("outer_rim", ())) == 1)
    bench.page.get_by_text("Push from Python").click()
    bench.point("entry/P").wait_for()
    assert bench.page.locator(".point").count() == 1
    bench.page.get_by_text("Push from Python").click()
    bench.button("undo").click()
    bench.sent(lambda m: len(m.get("outer_rim", ())) == 1)
    bench.page.get_by_text("Other photo").click()
    bench.page.wait_for_selector('.marking[data-painted="other.png"]')
    assert bench.page.locator(".point").count() == 0
    assert bench.button("undo").is_disabled()


def test_placements_and_visible_edges_make_valid_marks(visit: Visit) -> None:
    bench = visit()
    seen = bench.discs()
    bench.step("entry")
    bench.button("edge").click()
    bench.page.mouse.click(*seen[1])
    bench.page.mouse.click(seen[1][0] + 3, seen[1][1] + 90)
    bench.button("another").click()
    bench.page.mouse.click(*seen[2])
    marks = bench.sent(lambda m: len(m.get("placements", ())) == 2)
    first, second = marks["placements"]
    assert (first["label"], second["label"]) == ("1", "2")
    assert first["outline"] == ["entry"]
    assert "exit" in first
    assert "outline" not in second
    bench.button("edge").click()
    bench.sent(lambda m: m["placements"][1].get("outline") == ["entry"])
    document = {"format": "rimspan-marks/1", "side": "left", "card": {"id": "rimspan-frame-1"}}
    parsed = parse_marks(document | {"photos": [{"file": "photo.png", **marks}]})
    assert parsed.photos[0].placements[1].label == "2"


@pytest.mark.parametrize(
    ("width", "height", "touch"), [(1280, 900, False), (1024, 768, True), (390, 844, True)]
)
def test_buttons_are_large_and_nothing_sticks_out(
    visit: Visit, width: int, height: int, touch: bool
) -> None:
    bench = visit(width=width, height=height, touch=touch)
    bench.page.locator(".marking summary").click()
    sizes = bench.page.locator(".marking button:visible, .marking summary").evaluate_all(
        "all => all.map(b => [b.offsetWidth, b.offsetHeight, b.getBoundingClientRect().right])"
    )
    assert len(sizes) > 12
    assert min(w for w, _, _ in sizes) >= 44
    assert min(h for _, h, _ in sizes) >= 44
    assert max(right for _, _, right in sizes) <= width
    assert bench.page.evaluate("() => document.documentElement.scrollWidth") <= width


def luminance(colour: NDArray[np.float64]) -> NDArray[np.float64]:
    """Relative luminance, WCAG 2.2."""
    value = np.asarray(colour) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ (0.2126, 0.7152, 0.0722))


def contrast(a: float, b: float) -> float:
    return (max(a, b) + 0.05) / (min(a, b) + 0.05)


@pytest.mark.published(source="WCAG 2.2", where="success criterion 1.4.11, 3 to 1")
def test_signs_stand_out_on_every_skin_tone(visit: Visit) -> None:
    spots = {MID: [500.0, 700.0], PALE: [400.0, 1050.0], DEEP: [1200.0, 1050.0]}
    marks = {"ties": {str(i): at for i, at in enumerate(spots.values())}}
    bench = visit(2, marks=marks)
    for i, tone in enumerate(spots):
        frame = bench.point(f"tie/{i}").bounding_box()
        assert frame is not None
        x, y = (round(2 * (frame[a] + frame[s] / 2)) for a, s in (("x", "width"), ("y", "height")))
        sign = luminance(bench.screen()[y - 16 : y + 16, x - 16 : x + 16])
        skin = float(luminance(np.array(tone, dtype=float)))
        ink, casing = contrast(float(sign.min()), skin), contrast(float(sign.max()), skin)
        assert max(ink, casing) >= 3
        if tone == MID:
            assert ink >= 3
        assert contrast(float(sign.min()), float(sign.max())) >= 4.5


def test_a_sign_stands_where_its_point_is(visit: Visit) -> None:
    bench = visit(2)
    at = bench.discs()[2]
    bench.page.locator(".marking summary").click()
    bench.step("tie")
    bench.page.mouse.click(*at)
    bench.sent(lambda m: "ties" in m)
    frame = bench.point("tie/1").bounding_box()
    assert frame is not None
    centre = (frame["x"] + frame["width"] / 2, frame["y"] + frame["height"] / 2)
    assert off(list(centre), at) < 0.3
