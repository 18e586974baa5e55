"""A consultation on one photo by keyboard alone, from a client's name to a saved assessment.

Nothing is clicked or tapped, and no field is filled but by typing into it.  The one exception is
the system's own file dialog, which no browser test can drive: it is opened by Enter, and the
photo is handed to it.  Wherever the Tab key stops, one must be able to see it.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rimspan.clientfile import ClientFile, Revision

if TYPE_CHECKING:
    from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_images" / "pronounced"
PHOTO = SAMPLE / "square-on.jpg"
PHOTO_SIZE = (2000, 1500)
PAN_PX, ZOOM, ZOOMED = 48, 1.4, 7
"""How far an arrow key moves the photo, what one plus zooms, how often it is pressed here."""

AXES = (("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"))
MOST_STOPS, STEP_MS = 60, 10_000

FOCUSED = """
function focused() {
  let at = document.activeElement;
  while (at && at.shadowRoot && at.shadowRoot.activeElement) at = at.shadowRoot.activeElement;
  return at;
}
"""
NAMED = f"""() => {{
  {FOCUSED}
  const at = focused();
  const said = at.getAttribute('aria-label') || at.labels?.[0]?.innerText || at.innerText || '';
  return at === document.body ? '' : said.replace(/\\s+/g, ' ').trim();
}}"""
SEEN = f"""() => {{
  {FOCUSED}
  let at = focused();
  if (at === document.body) return true;
  const corner = at.matches('.point') && at.querySelector('.corners path:last-child');
  if (corner) return parseFloat(getComputedStyle(corner).strokeWidth) >= 3;
  for (let up = 0; at && up < 3; up += 1, at = at.parentElement) {{
    const {{ outlineStyle, outlineWidth }} = getComputedStyle(at);
    if (outlineStyle === 'solid' && parseFloat(outlineWidth) >= 2) return true;
  }}
  return false;
}}"""
WHERE = f"""() => {{
  {FOCUSED}
  return focused().outerHTML.slice(0, 400);
}}"""
PLACE = re.compile(r", x (?P<x>\d+\.\d), y (?P<y>\d+\.\d)$")
CHANNEL = re.compile(r"channel (?:is )?(\d+\.\d) mm")

Point = tuple[float, float]

pytestmark = [pytest.mark.browser, pytest.mark.usefixtures("browser")]


def truth() -> dict[str, Any]:
    document = json.loads(PHOTO.with_suffix(".truth.json").read_text("utf-8"))
    return dict(document["placements"]["A"])


def drawn() -> dict[str, Any]:
    return dict(json.loads((SAMPLE / "marks-examined.json").read_text("utf-8")))


class Keys:
    """Ten fingers on a keyboard and eyes on the screen."""

    def __init__(self, page: Page) -> None:
        self.page = page
        page.on("filechooser", lambda dialog: None)  # else the first dialog may slip through

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def frame(self) -> None:
        """Wait until what was pressed is drawn."""
        self.page.evaluate(
            """() => new Promise(done =>
            requestAnimationFrame(() => requestAnimationFrame(done)))"""
        )

    def named(self) -> str:
        """Return the name of what has the focus, or ``""`` where nothing has."""
        return str(self.page.evaluate(NAMED))

    def reach(self, wanted: str, key: str = "Tab") -> None:
        """Go from stop to stop, each of which can be seen, until one begins with these words."""
        stops: list[str] = []
        while not self.named().startswith(wanted):
            assert len(stops) < MOST_STOPS, f"no way to {wanted!r}; stops: {stops}"
            self.press(key)
            stops.append(self.named())
            self.is_seen()

    def sees(self, words: str | re.Pattern[str]) -> None:
        """Wait until words are there and the page has come to rest, as a person does."""
        self.page.get_by_text(words).first.wait_for()
        self.rests()

    def rests(self) -> None:
        self.page.locator("[data-test-script-state=notRunning]").wait_for(state="attached")

    def is_seen(self) -> None:
        from playwright.sync_api import TimeoutError as Unseen

        try:
            self.page.wait_for_function(SEEN, timeout=STEP_MS)
        except Unseen:
            pytest.fail(f"the focus can't be seen on {self.named()!r}: {self.page.evaluate(WHERE)}")

    def write(self, field: str, words: str, then: str = "") -> None:
        """Type into a field and press Enter, which commits it and goes to the field beside."""
        self.reach(field)
        self.press("Control+a")
        self.page.keyboard.type(words)
        self.press("Enter")
        self.rests()
        assert self.named().startswith(then or field), "the focus stays, or is in the field beside"


class Marking:
    """The photo under the keys: arrows move it, Enter marks its middle, then the point is moved."""

    def __init__(self, keys: Keys) -> None:
        self.keys = keys
        keys.page.locator(".marking[data-painted]").wait_for()
        keys.rests()

    def look_at(self, point: Point) -> None:
        """Zoom in on the middle of the whole photo, then move it until the point is in sight."""
        box = self.keys.page.locator(".marking [data-part=box]").bounding_box()
        assert box is not None
        scale = min(box["width"] / PHOTO_SIZE[0], box["height"] / PHOTO_SIZE[1])
        step = PAN_PX / (scale * ZOOM**ZOOMED)
        self.keys.press("0", *["+"] * ZOOMED)
        for wanted, size, (less, more) in zip(point, PHOTO_SIZE, AXES, strict=True):
            steps = round((wanted - (size / 2 - 0.5)) / step)
            self.keys.press(*[more if steps > 0 else less] * abs(steps))

    def place(self) -> Point:
        """Return where the point with the focus is, as it is said to a screen reader."""
        self.keys.frame()
        found = PLACE.search(self.keys.named())
        assert found is not None, self.keys.named()
        return float(found["x"]), float(found["y"])

    def mark(self, point: Point, name: str) -> None:
        """Mark the middle of what is seen, go to that point by Tab and move it into its place."""
        assert self.keys.named().startswith("Photo of the ear")
        self.look_at(point)
        self.keys.press("Enter")
        self.keys.frame()
        self.keys.reach(name)
        for wanted, there, (less, more) in zip(point, self.place(), AXES, strict=True):
            tenths = round(10 * (wanted - there))
            key = more if tenths > 0 else less
            whole, part = divmod(abs(tenths), 10)
            self.keys.press(*[key] * whole, *[f"Shift+{key}"] * part)
        off = [abs(a - b) for a, b in zip(self.place(), point, strict=True)]
        assert max(off) <= 0.11  # a tenth of a pixel, as it is read out
        self.keys.press("Escape")


def begin(keys: Keys) -> None:
    keys.reach("Name or a sign of your own")
    keys.page.keyboard.type("Robin Example")
    keys.reach("Create the client")
    keys.press("Enter")
    keys.sees("Which ear, the client's own?")
    keys.reach("Left ear")
    keys.press("Enter")


def bring_the_photo(keys: Keys) -> None:
    keys.sees("Take photos, or choose several")
    keys.reach("upload")
    with keys.page.expect_file_chooser() as dialog:
        keys.press("Enter")
    dialog.value.set_files(PHOTO)
    keys.sees(re.compile(r"Card rimspan-frame-1 found: \d+ of 58 corners\."))


def say_the_age(keys: Keys) -> None:
    keys.reach("Talk")
    keys.press("Enter")
    keys.sees("How old, by the identity paper?")
    keys.reach("18 or older")
    keys.press("Space")
    keys.rests()
    keys.reach("I looked at the client's identity paper")
    keys.press("Space")
    keys.sees("Age and consent are met.")


def mark_everything(keys: Keys) -> None:
    points, photo = truth()["points"], drawn()["photos"][0]
    edge = next(p for p in photo["placements"] if p["label"] == "A")["exit"]
    marking = Marking(keys)
    keys.reach("Photo of the ear")
    for i, point in enumerate(photo["outer_rim"][::3]):
        keys.press("1")  # after three points the inner rim is asked for
        marking.mark(tuple(point), f"outer rim, point {i + 1},")
    for i, point in enumerate(photo["inner_rim"][::3]):
        keys.press("2")
        marking.mark(tuple(point), f"inner rim, point {i + 1},")
    keys.press("3")
    marking.mark(tuple(points["entry"]["px"]), "entry of placement")
    marking.mark(tuple(edge), "exit of placement")
    keys.reach("Exit, marked")
    keys.press("Enter")
    keys.reach("Exit on the visible edge")
    keys.press("Enter")
    keys.reach("Next below, not marked", "Shift+Tab")
    keys.press("Enter")
    keys.reach("Photo of the ear", "Shift+Tab")
    marking.mark(tuple(points["below"]["px"]), "next below of placement")
    keys.sees(CHANNEL)


def examine(keys: Keys) -> None:
    """Say what hands, calipers and depth rod found on this ear."""
    read = drawn()["caliper"]["A"]
    keys.reach("firm")
    keys.press("Space")
    keys.rests()
    relief = "Relief, by depth rod (mm)"
    keys.write("Fold depth, not pressed (mm)", f"{read['fold_depth_mm']}", then=relief)
    keys.write(relief, f"{read['relief_mm']}")
    keys.reach("keyboard_arrow_right How far the rim stands before the card")
    keys.press("Enter")
    offset = drawn()["rim_plane"]["offset_mm"]
    keys.write("Rim before the card, toward the camera (mm)", f"{offset}", then="± u (mm)")


def sign(keys: Keys) -> None:
    keys.reach("Go on to sign")
    keys.press("Enter")
    keys.sees("I examined this ear myself")
    keys.reach("I examined this ear myself, and I decide.")
    keys.press("Space")
    keys.rests()
    keys.reach("Save the assessment")
    keys.press("Enter")
    keys.sees("Saved as revision 1.")


def saved(store: Path) -> list[Revision]:
    with ClientFile.open(store) as file:
        (client,) = file.clients()
        return list(file.revisions(client.id))


def test_a_consultation_by_keyboard_alone(serve: Any, open_page: Any, tmp_path: Path) -> None:
    store = tmp_path / "store"
    url = serve(ROOT / "app.py", env={"RIMSPAN_STORE": str(store)})
    keys = Keys(open_page(url, width=1024, height=768))
    begin(keys)
    bring_the_photo(keys)
    say_the_age(keys)
    keys.reach("Marks")
    keys.press("Enter")
    mark_everything(keys)
    examine(keys)
    keys.reach("Answer")
    keys.press("Enter")
    keys.sees("What was marked, as it was measured.")
    sign(keys)

    (revision,) = saved(store)
    assert revision.confirmed_by == "Alex Invented"
    (placement,) = revision.result["placements"]
    channel = placement["channel"]
    assert abs(channel["value"] - truth()["channel_mm"]) <= 3 * channel["u"]
    assert channel["u"] <= 0.7

    # The look at every stop can fail.
    keys.reach("Go to the timeline")
    keys.page.add_style_tag(content="* { outline: none !important; }")
    assert not keys.page.evaluate(SEEN)
