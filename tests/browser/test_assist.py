"""Help with marking on the Marks page: lines wait to be accepted, taps go to pen dots and back.

The photo is a rendered ear: where its rim and its pen dots are is known from what it was
rendered of, not from anything that looks at the picture.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from assess.read_marks import parse_marks
from assess.rim import resample
from calibration.frames import Array
from rimspan.clientfile import ClientFile
from rimspan.screens.document import measurable, new_document, with_marks, with_photo
from sample_images.sets import sample_set
from sample_images.visible import contours

if TYPE_CHECKING:
    from playwright.sync_api import Locator, Page, Route

ROOT = Path(__file__).resolve().parents[2]
PHOTO = ROOT / "sample_images" / "pronounced" / "square-on.jpg"
SIZE = (2000, 1500)
SIGMA_TAP_MM = 0.5
HELP = "**/marking-help"
LINES = ("outer_rim", "inner_rim")

ANSWERED = "mark => Boolean(mark.getRootNode().rimspanMarking.lanes.outer_rim.answer)"

Point = tuple[float, float]

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


def truth() -> dict[str, Any]:
    return dict(json.loads(PHOTO.with_suffix(".truth.json").read_text("utf-8")))


def spot(name: str) -> Array:
    """Return where a dot's centre, or a place of the placement, is in the photo, px."""
    told = truth()
    held = told["placements"]["A"]["points"] | told["ties"]
    return np.array(held[name]["px"])


@pytest.fixture(scope="module")
def rims() -> dict[str, Array]:
    """Return the visible contours of the ear that was rendered, px."""
    sample = sample_set("pronounced")
    view, standing = sample.view("square-on"), sample.standing
    lines = contours(sample.ear, standing.to_ear(view.centre_card[None])[0], 60)
    return {n: view.pixels(standing.to_card(line)) for n, line in zip(LINES, lines, strict=True)}


def mm_per_px() -> float:
    """Return a pixel's size at the ear, from the distance the photo was rendered at."""
    told = truth()
    return float(told["tvec"][2]) / float(told["camera"]["fx"])


def off_px(points: Array, line: Array) -> Array:
    """Return the distance of points from a polyline, px."""
    start, way = line[:-1], np.diff(line, axis=0)
    along = np.einsum("nsk,sk->ns", points[:, None] - start, way) / np.einsum("sk,sk->s", way, way)
    foot = start + np.clip(along, 0, 1)[..., None] * way
    return np.asarray(np.linalg.norm(points[:, None] - foot, axis=-1).min(axis=1))


def rms_mm(marked: Any, line: Array) -> float:
    """Return how far the curve through marks is from the true contour, mm."""
    mm = mm_per_px()
    curve = resample(np.asarray(marked, dtype=float) * mm, 0.2) / mm
    return float(np.sqrt((off_px(curve, line) ** 2).mean())) * mm


def taps_on(line: Array, seed: int, count: int = 4) -> list[Array]:
    """Return taps along a contour by a hand that is off by ``SIGMA_TAP_MM`` on each axis."""
    rng = np.random.default_rng(seed)
    at = line[np.linspace(2, len(line) - 3, count).round().astype(int)]
    return list(at + rng.normal(0.0, SIGMA_TAP_MM / mm_per_px(), at.shape))


class Bench:
    """The Marks page of one client's ear."""

    def __init__(self, page: Page, store: Path, client: str) -> None:
        self.page, self.store, self.client = page, store, client
        self.painted()
        self.take("fit")

    def painted(self) -> None:
        self.page.locator(".marking[data-painted]").wait_for()

    def button(self, name: str) -> Locator:
        return self.page.locator(f'.marking button[data-name="{name}"]')

    def take(self, name: str) -> None:
        if not self.button(name).is_visible():
            self.page.locator(".marking summary").click()
        self.button(name).click()
        self.settled()

    def settled(self) -> None:
        self.page.evaluate(
            "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
        )

    def place(self, point: Array) -> Point:
        """Return where a pixel of the photo is in the window, the photo fitted into its box."""
        box = self.page.locator(".marking [data-part=box]").bounding_box()
        assert box is not None
        scale = min(box["width"] / SIZE[0], box["height"] / SIZE[1])
        left = box["x"] + (box["width"] - SIZE[0] * scale) / 2
        top = box["y"] + (box["height"] - SIZE[1] * scale) / 2
        return left + (point[0] + 0.5) * scale, top + (point[1] + 0.5) * scale

    def tap(self, point: Array) -> None:
        from playwright.sync_api import expect

        points = self.page.locator(".marking [data-part=points] .point")
        count = points.count()
        self.page.mouse.click(*self.place(point))
        expect(points).to_have_count(count + 1)

    def middle(self, name: str) -> Point:
        """Return where a point stands in the window, as its sign was drawn."""
        found = self.page.locator(f'.marking .point[data-id="{name}"]')
        drawn = re.match(
            r"translate\(([-\d.]+),([-\d.]+)\)", found.get_attribute("transform") or ""
        )
        box = self.page.locator(".marking [data-part=box]").bounding_box()
        assert drawn is not None
        assert box is not None
        return box["x"] + float(drawn[1]), box["y"] + float(drawn[2])

    def hint(self, words: str) -> None:
        self.page.locator(".marking [data-part=hint]").get_by_text(words).wait_for()

    def kept(self, ready: Callable[[dict[str, Any]], Any]) -> dict[str, Any]:
        """Return the photo's marks in the draft, once they are as they should be."""
        end = time.monotonic() + 15.0
        while True:
            with ClientFile.open(self.store) as file:
                (photo,) = (file.draft(self.client, "left") or {})["photos"]
            if ready(photo):
                return dict(photo)
            assert time.monotonic() < end, f"the draft never got there; it has {photo}"
            time.sleep(0.05)

    def placement(self, ready: Callable[[dict[str, Any]], Any]) -> dict[str, Any]:
        found = self.kept(lambda m: any(ready(p) for p in m.get("placements", ())))
        return dict(found["placements"][0])


@pytest.fixture(scope="module")
def studio(serve: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    store = tmp_path_factory.mktemp("studio") / "store"
    return serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)}), store


@pytest.fixture
def visit(studio: tuple[str, Path], open_page: Any) -> Callable[..., Bench]:
    """Return ``visit(marks={}, **window)``: the Marks page, the photo brought already."""
    url, store = studio

    def start(marks: dict[str, Any] | None = None, **window: Any) -> Bench:
        with ClientFile.open(store) as file:
            client = file.create_client("Robin Example").id
            kept = file.add_photo(client, PHOTO.read_bytes(), PHOTO.name, "left")
            document = with_photo(new_document("left"), PHOTO.name, kept.sha256)
            file.save_draft(client, "left", with_marks(document, PHOTO.name, marks or {}))
        page = open_page(f"{url}/marks?client={client}&side=left", **window)
        return Bench(page, store, client)

    return start


def propose(bench: Bench, name: str, line: Array, seed: int) -> list[Array]:
    """Tap along a contour until a line is proposed for all of the taps."""
    bench.take(name)
    taps = taps_on(line, seed)
    for tap in taps:
        bench.tap(tap)
    bench.kept(lambda m: len(m.get(name, ())) == len(taps))
    bench.button("accept").wait_for()
    return taps


@pytest.mark.parametrize(("name", "within_mm"), [("outer_rim", 0.15), ("inner_rim", 0.3)])
def test_a_proposal_counts_once_it_is_accepted(
    visit: Any, rims: dict[str, Array], name: str, within_mm: float
) -> None:
    bench = visit()
    propose(bench, name, rims[name], seed=5)
    bench.hint("accept it, or go on by hand.")
    by_hand = bench.kept(lambda m: len(m.get(name, ())) == 4)[name]
    assert "x_help" not in bench.kept(lambda m: True)

    bench.take("accept")
    traced = bench.kept(lambda m: m.get("x_help") == {name: "traced"})[name]
    assert 7 <= len(traced) <= 24
    assert rms_mm(traced, rims[name]) < within_mm
    assert rms_mm(traced, rims[name]) < 0.6 * rms_mm(by_hand, rims[name])
    assert not bench.button("accept").is_visible()

    bench.take("undo")
    assert bench.kept(lambda m: "x_help" not in m)[name] == by_hand
    bench.take("redo")
    assert bench.kept(lambda m: "x_help" in m)[name] == traced


def test_three_taps_on_each_line_and_both_are_accepted_at_once(
    visit: Any, rims: dict[str, Array]
) -> None:
    bench = visit()
    bench.hint("Tap the outer edge of the rim three times")
    for name in LINES:
        bench.page.locator(f".marking[data-step={name}]").wait_for()
        for tap in taps_on(rims[name], seed=5, count=3):
            bench.tap(tap)
    bench.button("accept").get_by_text("Accept both lines").wait_for()
    bench.hint("Two proposed lines")
    assert "x_help" not in bench.kept(lambda m: len(m.get("inner_rim", ())) == 3)
    bench.take("accept")
    traced = bench.kept(lambda m: m.get("x_help") == dict.fromkeys(LINES, "traced"))
    bench.page.locator(".marking[data-step=entry]").wait_for()
    assert rms_mm(traced["outer_rim"], rims["outer_rim"]) < 0.2
    assert rms_mm(traced["inner_rim"], rims["inner_rim"]) < 0.35
    bench.take("undo")  # one step back for both
    assert len(bench.kept(lambda m: "x_help" not in m)["outer_rim"]) == 3


class Halted:
    """A page whose clock stands still, with three taps and a proposal on the outer rim."""

    def __init__(self, bench: Bench, line: Array) -> None:
        self.bench, self.page, self.line = bench, bench.page, line
        self.page.clock.install()
        self.page.clock.pause_at(datetime.now(UTC) + timedelta(days=1))
        for tap in taps_on(line, seed=5, count=3):
            self.page.mouse.click(*bench.place(tap))
            self.pass_ms(100)  # the question goes out, frames are drawn
        marking = self.page.locator(".marking")
        while not marking.evaluate(ANSWERED):
            self.page.wait_for_timeout(20)

    def pass_ms(self, time_ms: int) -> None:
        self.page.clock.run_for(time_ms)

    def step(self) -> str:
        return self.page.locator(".marking").get_attribute("data-step") or ""


@pytest.fixture
def halted(visit: Any, rims: dict[str, Array]) -> Halted:
    return Halted(visit(), rims["outer_rim"])


def test_after_a_rest_the_other_line_is_asked_for(halted: Halted) -> None:
    halted.pass_ms(1450)
    assert halted.step() == "outer_rim"
    halted.bench.hint("the inner rim is next.")
    halted.pass_ms(100)
    assert halted.step() == "inner_rim"


def test_a_quick_fourth_tap_stays_on_the_line(halted: Halted) -> None:
    """The next line is asked for after a rest, so that no tap on its way falls on it."""
    halted.pass_ms(1450)
    fourth = taps_on(halted.line, seed=7, count=8)[2]
    halted.page.mouse.click(*halted.bench.place(fourth))
    halted.pass_ms(10_000)
    assert halted.page.locator('.marking .point[data-id^="outer_rim/"]').count() == 4
    assert halted.step() == "outer_rim"


def test_a_line_that_was_picked_is_not_left_by_itself(halted: Halted) -> None:
    halted.bench.button("outer_rim").click()
    halted.pass_ms(10_000)
    assert halted.step() == "outer_rim"


def test_nothing_changes_under_a_finger(halted: Halted) -> None:
    """It moves the photo about; the rest begins once it is lifted."""
    x, y = halted.bench.place(np.array([400.0, 1300.0]))
    halted.page.mouse.move(x, y)
    halted.page.mouse.down()
    halted.page.mouse.move(x + 60, y)
    halted.pass_ms(10_000)
    assert halted.step() == "outer_rim"
    halted.page.mouse.up()
    halted.pass_ms(1450)
    assert halted.step() == "outer_rim"
    halted.pass_ms(100)
    assert halted.step() == "inner_rim"


def test_a_line_that_was_not_found_is_asked_for_again(visit: Any, rims: dict[str, Array]) -> None:
    bench = visit()

    def blind(route: Route) -> None:
        none = {"none": "No edge is seen along these points. Your own points stand."}
        outer = route.request.post_data_json["kind"] == "outer"
        route.fulfill(json=none if outer else route.fetch().json())

    bench.page.route(HELP, blind)
    for tap in taps_on(rims["outer_rim"], seed=5, count=3):
        bench.tap(tap)
    bench.hint("No proposal for the outer rim.")  # nothing was tapped elsewhere meanwhile
    bench.take("inner_rim")
    for tap in taps_on(rims["inner_rim"], seed=5, count=3):
        bench.tap(tap)
    bench.button("accept").get_by_text("Accept the line").wait_for()
    bench.take("accept")
    bench.kept(lambda m: m.get("x_help") == {"inner_rim": "traced"})
    bench.page.locator(".marking[data-step=outer_rim]").wait_for()


def test_the_piercers_own_taps_can_be_kept(visit: Any, rims: dict[str, Array]) -> None:
    bench = visit()
    propose(bench, "outer_rim", rims["outer_rim"], seed=5)
    before = bench.kept(lambda m: True)["outer_rim"]
    bench.take("own")
    assert bench.kept(lambda m: m.get("x_help") == {"outer_rim": "own"})["outer_rim"] == before
    assert not bench.button("accept").is_visible()
    bench.page.reload()
    bench.painted()
    bench.take("outer_rim")
    bench.button("propose").wait_for()
    assert not bench.button("accept").is_visible()
    bench.take("propose")
    bench.button("accept").wait_for()
    assert bench.kept(lambda m: "x_help" not in m)["outer_rim"] == before


def test_where_no_edge_is_seen_nothing_is_drawn_but_the_taps(
    visit: Any, rims: dict[str, Array]
) -> None:
    """The same taps over a part of the photo that was painted over."""
    bench = visit()
    asked: list[Any] = []

    def blind(route: Route) -> None:
        asked.append(route.request.post_data_json)
        answer = route.fetch().json()
        last = len(answer["line"]) // 2
        keep = asked[-1]["points"][:2] + answer["keep"][len(answer["keep"]) // 2 :]
        route.fulfill(json=answer | {"gaps": [[0, last]], "keep": keep})

    bench.page.route(HELP, blind)
    propose(bench, "outer_rim", rims["outer_rim"], seed=5)
    bench.hint("Dotted: no edge seen")
    assert bench.page.locator(".marking svg text", has_text="no edge seen").count() > 0
    assert {path["photo"] for path in asked} == {asked[0]["photo"]}
    bench.take("accept")
    kept = bench.kept(lambda m: "x_help" in m)["outer_rim"]
    assert kept[:2] == asked[-1]["points"][:2]


def test_a_proposal_that_comes_too_late_is_dropped(visit: Any, rims: dict[str, Array]) -> None:
    bench = visit()
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    bench.page.route(HELP, hold)
    bench.take("outer_rim")
    taps = taps_on(rims["outer_rim"], seed=5)
    for tap in taps[:3]:
        bench.tap(tap)
    bench.hint("Looking for the edge")
    bench.tap(taps[3])  # nothing waits for the answer
    bench.kept(lambda m: len(m.get("outer_rim", ())) == 4)
    bench.hint("Looking for the edge")
    assert len(held) == 2
    held[0].fulfill(json=held[0].fetch().json())
    bench.settled()
    assert not bench.button("accept").is_visible()
    held[1].fulfill(json=held[1].fetch().json())
    bench.button("accept").wait_for()


def test_without_an_answer_marking_goes_on(visit: Any, rims: dict[str, Array]) -> None:
    bench = visit()
    bench.page.route(HELP, lambda route: route.abort())
    bench.take("outer_rim")
    for tap in taps_on(rims["outer_rim"], seed=5):
        bench.tap(tap)
    bench.hint("Your own points stand.")
    bench.take("crest")
    bench.tap(spot("crest"))
    bench.hint("your own mark stands.")
    bench.placement(lambda p: "crest" in p)
    bench.kept(lambda m: len(m.get("outer_rim", ())) == 4)


def test_only_a_stretch_is_looked_at_anew(visit: Any, rims: dict[str, Array]) -> None:
    bench = visit()
    propose(bench, "outer_rim", rims["outer_rim"], seed=5)
    bench.take("accept")
    before = bench.kept(lambda m: "x_help" in m)["outer_rim"]
    bench.take("outer_rim")
    bench.take("ear")
    bench.take("in")
    index = len(before) // 2
    start = bench.middle(f"outer_rim/{index}")
    bench.page.mouse.move(*start)
    bench.page.mouse.down()
    bench.page.mouse.move(start[0] + 2, start[1] + 8, steps=4)  # 0.8 mm, as a finger may miss
    bench.page.mouse.up()
    bench.button("accept").get_by_text("Accept the stretch").wait_for()
    moved = bench.kept(lambda m: m["outer_rim"] != before)["outer_rim"]
    assert [i for i, (a, b) in enumerate(zip(before, moved, strict=True)) if a != b] == [index]
    bench.take("accept")
    after = bench.kept(lambda m: m["outer_rim"] != moved)["outer_rim"]
    assert after[:index] == before[:index]
    assert after[-(len(before) - index - 1) :] == before[index + 1 :]
    assert rms_mm(after, rims["outer_rim"]) < 0.15
    assert rms_mm(after, rims["outer_rim"]) < rms_mm(moved, rims["outer_rim"])

    # The same from a button, for a point that was chosen; keeping one's point changes nothing.
    bench.page.mouse.click(*bench.middle("outer_rim/3"))
    bench.take("stretch")
    bench.button("own").get_by_text("Keep my point").wait_for()
    bench.take("own")
    assert bench.kept(lambda m: True)["outer_rim"] == after


def test_a_tap_near_a_dot_moves_onto_it_and_back(visit: Any) -> None:
    bench = visit()
    true = spot("crest")
    bench.take("crest")
    bench.tap(true + np.array([7.0, -5.0]))
    placement = bench.placement(lambda p: p.get("snapped"))
    assert placement["snapped"] == ["crest"]
    assert float(np.linalg.norm(np.array(placement["crest"]) - true)) < 1.0
    assert 0 < placement["u_px"] < 2
    bench.hint("Snapped to the pen dot")
    document = with_marks(
        with_photo(new_document("left"), PHOTO.name, "0"), PHOTO.name, {"placements": [placement]}
    )
    assert parse_marks(measurable(document)).photos[0].placements[0].u_px == placement["u_px"]

    tapped = placement["x_snap"]["crest"]["tap"]
    assert np.linalg.norm(np.array(tapped) - true) == pytest.approx(np.hypot(7, 5), abs=1.5)
    bench.take("undo")
    back = bench.placement(lambda p: "snapped" not in p)
    assert back == {"label": "1", "crest": tapped}
    bench.take("redo")
    assert bench.placement(lambda p: p.get("snapped")) == placement
    bench.page.mouse.click(*bench.middle("crest/1"))
    bench.take("unsnap")
    assert bench.placement(lambda p: "snapped" not in p) == back


def test_a_snapped_point_that_a_hand_moves_is_a_hands(visit: Any) -> None:
    bench = visit()
    bench.take("crest")
    bench.tap(spot("crest") + np.array([7.0, -5.0]))
    bench.placement(lambda p: p.get("snapped"))
    bench.page.keyboard.press("ArrowRight")
    moved = bench.placement(lambda p: "snapped" not in p)
    assert set(moved) == {"label", "crest"}
    assert moved["crest"][0] == pytest.approx(spot("crest")[0] + 1, abs=1.0)


def test_on_bare_skin_the_tap_stays(visit: Any) -> None:
    bench = visit()
    bench.take("crest")
    bench.tap(np.array([860.0, 1000.0]))  # the cheek, far from every dot
    bench.hint("No pen dot here: your own mark stands.")
    placement = bench.placement(lambda p: "crest" in p)
    assert set(placement) == {"label", "crest"}
    assert placement["crest"] == pytest.approx([860.0, 1000.0], abs=1.5)
    bench.take("undo")
    bench.kept(lambda m: "placements" not in m)
    assert bench.button("undo").is_disabled()


def test_what_lies_on_the_visible_edge_is_not_snapped(visit: Any) -> None:
    bench = visit()
    asked: list[Any] = []
    bench.page.on("request", lambda r: asked.append(r.url) if "marking-help" in r.url else None)
    bench.take("exit")
    bench.take("edge")
    bench.tap(spot("crest") + 2.0)
    bench.placement(lambda p: p.get("outline") == ["exit"])
    bench.take("entry")
    bench.tap(spot("lobe") + 4.0)
    found = bench.placement(lambda p: p.get("snapped"))
    assert (found["snapped"], found["outline"]) == (["entry"], ["exit"])
    assert len(asked) == 1
    bench.page.mouse.click(*bench.middle("entry/1"))
    bench.take("edge")
    assert bench.placement(lambda p: p.get("outline") == ["exit", "entry"]) == {
        "label": "1",
        "entry": found["x_snap"]["entry"]["tap"],
        "exit": found["exit"],
        "outline": ["exit", "entry"],
    }


def test_two_marks_do_not_share_a_dot(visit: Any) -> None:
    bench = visit(width=1900, height=1300)  # a tap too close would choose the first mark
    bench.take("crest")
    bench.tap(spot("crest") + np.array([9.0, -5.0]))
    bench.placement(lambda p: p.get("snapped"))
    bench.take("floor")
    bench.tap(spot("crest") + np.array([-24.0, 2.0]))
    bench.hint("is the crest of placement 1: your own mark stands.")
    assert bench.placement(lambda p: "floor" in p)["snapped"] == ["crest"]


def test_ties_have_an_uncertainty_once_all_are_snapped(visit: Any) -> None:
    bench = visit()
    bench.take("tie")
    for name in ("lobe", "antihelix"):
        bench.tap(spot(name) + np.array([5.0, 4.0]))
    marks = bench.kept(lambda m: len(m.get("x_ties_snap", ())) == 2)
    us = [snap["u_px"] for snap in marks["x_ties_snap"].values()]
    assert marks["u_ties_px"] == max(us)
    for tie, name in (("1", "lobe"), ("2", "antihelix")):
        assert float(np.linalg.norm(np.array(marks["ties"][tie]) - spot(name))) < 1.0
    bench.tap(np.array([860.0, 1000.0]))
    bench.kept(lambda m: len(m["ties"]) == 3 and "u_ties_px" not in m)
    bench.take("delete")
    assert bench.kept(lambda m: len(m["ties"]) == 2)["u_ties_px"] == max(us)


def test_the_number_follows_the_finger(visit: Any) -> None:
    ends = {"label": "1", "entry": [986.0, 726.0], "exit": [1004.0, 785.0]}
    bench = visit({"placements": [ends]})
    live = bench.page.locator(".rim-live")
    live.get_by_text("channel").wait_for()
    start = bench.middle("exit/1")
    seen = [live.inner_text()]
    bench.page.mouse.move(*start)
    bench.page.mouse.down()
    for step in range(1, 4):
        bench.page.mouse.move(start[0], start[1] + 14 * step, steps=2)
        end = time.monotonic() + 15.0
        while live.inner_text() == seen[-1]:
            assert time.monotonic() < end, "the number didn't change while the finger was down"
            bench.page.wait_for_timeout(10)
        seen.append(live.inner_text())
    bench.page.mouse.up()
    values = [float(re.search(r"channel ([\d.]+) mm, between", words)[1]) for words in seen]  # type: ignore[index]
    assert values == sorted(values)
    assert len(set(values)) == 4
    bench.take("undo")
    live.get_by_text(seen[0]).wait_for()


def test_a_tap_among_a_lines_points_is_for_what_is_marked(visit: Any) -> None:
    line = [[x, 726.0] for x in np.linspace(900.0, 1070.0, 20)]
    bench = visit({"outer_rim": line, "inner_rim": [[900.0, 800.0], [1070.0, 800.0]]})
    bench.take("entry")
    bench.tap(np.array([986.0, 727.0]))
    bench.placement(lambda p: "entry" in p)
    bench.take("outer_rim")
    bench.page.mouse.click(*bench.middle("outer_rim/2"))
    bench.page.locator(".marking [data-part=said]").get_by_text("outer rim, point 3").wait_for()
