"""A hand on the marking, and a photo whose true places are known.

Where a disc stands on the screen is read from a screenshot, so nothing of the component's own
arithmetic is taken on trust.
"""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage

if TYPE_CHECKING:
    from playwright.sync_api import CDPSession, Locator, Page

Point = tuple[float, float]

MID, PALE, DEEP = (198, 134, 66), (240, 205, 170), (92, 56, 36)
"""Skin tones, sRGB, chosen for the test."""

FOCUSED = """() => { let on = document.activeElement;
  while (on.shadowRoot && on.shadowRoot.activeElement) on = on.shadowRoot.activeElement;
  return on.getAttribute('aria-label'); }"""


def draw_photo(
    path: Path, size: tuple[int, int], discs: Sequence[Point], radius: float, **options: Any
) -> None:
    """Save a photo of dark discs, three tones of skin below them."""
    width, height = size
    pixels = np.empty((height, width, 3), dtype=np.uint8)
    pixels[:] = MID
    low = 3 * height // 4
    pixels[low:, : width // 2], pixels[low:, width // 2 :] = PALE, DEEP
    reach = int(radius) + 3
    for cx, cy in discs:
        rows = slice(int(cy) - reach, int(cy) + reach)
        columns = slice(int(cx) - reach, int(cx) + reach)
        y, x = np.mgrid[rows, columns].astype(float)
        cover = np.clip(radius + 0.5 - np.hypot(x - cx, y - cy), 0, 1)[..., None]
        pixels[rows, columns] = (pixels[rows, columns] * (1 - cover)).round()
    Image.fromarray(pixels).save(path, **options)


def off(marked: Sequence[float], true: Sequence[float]) -> float:
    return float(np.hypot(marked[0] - true[0], marked[1] - true[1]))


class Bench:
    """A page with the marking on it."""

    def __init__(self, page: Page, dpr: float) -> None:
        self.page, self.dpr = page, dpr
        self.box: Locator = page.locator(".marking .box")
        self.wait_until_painted()

    def wait_until_painted(self) -> None:
        self.page.wait_for_selector(".marking[data-painted]")

    def settled(self) -> None:
        """Wait until what was asked for is on the screen: two frames."""
        self.page.evaluate(
            "() => new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))"
        )

    def screen(self) -> NDArray[np.float64]:
        """Return the screen's pixels, the pointer and its ghost out of the way."""
        self.page.mouse.move(1, 1)
        self.settled()
        png = self.page.screenshot(scale="device")
        return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=float)

    def pixels_of(self, part: Locator) -> NDArray[np.float64]:
        """Return the screen's pixels where a part of the page lies."""
        frame = part.bounding_box()
        assert frame is not None
        png = self.page.screenshot(scale="device", clip=frame)
        return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=float)

    def corner(self) -> tuple[Point, Point]:
        frame = self.box.bounding_box()
        assert frame is not None
        left, top = frame["x"], frame["y"]
        return (left, top), (left + frame["width"], top + frame["height"])

    def discs(self) -> list[Point]:
        """Return the discs' centres in CSS pixels of the page, from left to right."""
        (left, top), (right, bottom) = self.corner()
        picture = self.screen()
        x0, y0, x1, y1 = (round(v * self.dpr) for v in (left, top, right, bottom))
        part = picture[y0:y1, x0:x1, 0]
        dark = np.clip(1 - part / MID[0], 0, 1)
        dark[picture[y0:y1, x0:x1].max(axis=2) > MID[0] + 3] = 0
        blobs, _ = ndimage.label(dark > 0.85)
        centres = []
        for rows, columns in ndimage.find_objects(blobs):
            if rows.stop - rows.start < 4 * self.dpr:
                continue
            top_, left_ = max(rows.start - 4, 0), max(columns.start - 4, 0)
            blob = dark[top_ : rows.stop + 4, left_ : columns.stop + 4]
            y, x = ndimage.center_of_mass(blob)
            centres.append((x0 + left_ + x, y0 + top_ + y))
        return sorted(((x + 0.5) / self.dpr, (y + 0.5) / self.dpr) for x, y in centres)

    def disc(self, near: Point) -> Point:
        return min(self.discs(), key=lambda at: abs(at[0] - near[0]) + abs(at[1] - near[1]))

    def step(self, name: str) -> None:
        self.button(name).click()
        self.settled()

    def button(self, name: str) -> Locator:
        return self.page.locator(f'.marking button[data-name="{name}"]')

    def point(self, name: str) -> Locator:
        return self.page.locator(f'.marking .point[data-id="{name}"]')

    def zoom_at(self, at: Point, steps: int) -> None:
        self.page.mouse.move(*at)
        for _ in range(steps):
            self.page.mouse.wheel(0, -240)
        self.settled()

    def sent(self, ready: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Return the marks that Python got, once they are as they should be."""
        held = self.page.locator("#sent")
        seen: Any = None
        for _ in range(300):
            seen = json.loads(held.text_content() or "null")
            if seen and ready(seen["marks"]):
                return dict(seen["marks"])
            self.page.wait_for_timeout(20)
        raise AssertionError(f"Python never got the marks; it has {seen}")


class Fingers:
    """Fingers on the glass: Chromium's own touch events, which know parts of a pixel."""

    def __init__(self, page: Page) -> None:
        self._cdp: CDPSession = page.context.new_cdp_session(page)

    def _put(self, kind: str, spots: Sequence[Point]) -> None:
        points = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(spots)]
        self._cdp.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    def down(self, *spots: Point) -> None:
        self._put("touchStart", spots)

    def move(self, *spots: Point) -> None:
        self._put("touchMove", spots)

    def up(self) -> None:
        self._put("touchEnd", [])

    def spread(self, middle: Point, factor: float, steps: int = 6) -> None:
        """Move two fingers apart about their middle."""
        x, y = middle
        halves = np.geomspace(30.0, 30.0 * factor, steps)
        self.down((x - 30, y), (x + 30, y))
        for half in halves[1:]:
            self.move((x - half, y), (x + half, y))
        self.up()
