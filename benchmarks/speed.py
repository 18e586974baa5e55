"""How long the help with marking takes: ``python -m benchmarks.speed``.

On a sample photo drawn up to 12 MP: each step alone, and what a piercer waits for in a browser.
Times hold for one machine and the load it had; the ratios to finding the card in the same photo
and run are what to compare.  Writes ``benchmarks/speed.md``.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import platform
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import cv2
import numpy as np
from PIL import Image as Pillow

from assess.measure import measure
from assess.read_marks import parse_marks
from assess.reading import read_view
from benchmarks import engines
from benchmarks.speed_browser import in_browser
from calibration.find import find_card
from calibration.frames import Array
from calibration.photo import Photo, read_photo
from sample_images.sets import sample_set
from sample_images.visible import contours
from tracing.contour import trace
from tracing.dots import snap

SAMPLE = "pronounced"
FACTOR = 2
TURNS = 15
LIVE_DRAWS = 4_000
"""As many as the line under the photo takes."""


AIMS_MS = {"third tap": 300.0, "rests": 150.0}
WORDS = {
    "question": "a line's proposal: the browser's question and its answer",
    "third tap": "a line's proposal: from the third tap until it is drawn, with rests",
    "at once": "the same, three taps at once",
    "rests": "the number: from a finger's move until it stands there, with rests",
    "back to back": "the same, moved again as soon as it stands there",
}


def photo_12mp() -> bytes:
    """Return the sample's square-on photo at twice its size."""
    folder = Path(__file__).parents[1] / "sample_images" / SAMPLE
    whole = read_photo((folder / "square-on.jpg").read_bytes())
    size = (whole.size[0] * FACTOR, whole.size[1] * FACTOR)
    out = io.BytesIO()
    large = cv2.resize(whole.pixels, size, interpolation=cv2.INTER_CUBIC)
    Pillow.fromarray(large).save(out, "JPEG", quality=90)
    return out.getvalue()


Times = tuple[float, float]
"""Median time, ms, and of it the processor's, which a busy machine leaves as it is."""


def median_ms(act: Callable[[], object]) -> Times:
    """Return the median times of ``act`` after one turn to warm up."""
    act()
    times = []
    for _ in range(TURNS):
        start, used = time.perf_counter(), time.process_time()
        act()
        times.append((time.perf_counter() - start, time.process_time() - used))
    waited, worked = zip(*times, strict=True)
    return 1000.0 * statistics.median(waited), 1000.0 * statistics.median(worked)


def lines_and_ends() -> tuple[list[Array], Array, Array, float]:
    """Return both contours, entry and exit, a pen dot, px, and a pixel's size, mm, at 12 MP."""
    sample = sample_set(SAMPLE)
    view, standing = sample.view("square-on"), sample.standing
    lines = contours(sample.ear, standing.to_ear(view.centre_card[None])[0], 60)
    folder = Path(__file__).parents[1] / "sample_images" / SAMPLE
    told = json.loads((folder / "square-on.truth.json").read_text("utf-8"))["placements"]["A"]
    ends = FACTOR * np.array([told["points"][name]["px"] for name in ("entry", "exit")])
    mm_per_px = float(told["channel_mm"] / np.hypot(*(ends[0] - ends[1])))
    dot = FACTOR * np.array(told["points"]["crest"]["px"])
    return [FACTOR * view.pixels(standing.to_card(line)) for line in lines], ends, dot, mm_per_px


def steps(photo: Photo) -> dict[str, Times]:
    """Return each step's median times."""
    (outer, inner), ends, dot, mm_per_px = lines_and_ends()
    rng = np.random.default_rng(3)
    taps = [
        line[[1, 20, 40, -2]] + rng.normal(0.0, 0.4 / mm_per_px, (4, 2)) for line in (outer, inner)
    ]
    placement = {"label": "A", "entry": ends[0].tolist(), "exit": ends[1].tolist()}
    entry = {"file": "square-on.jpg", "placements": [placement]}
    card = {"id": "rimspan-frame-1"}
    marks = parse_marks(
        {"format": "rimspan-marks/1", "side": "left", "card": card, "photos": [entry]}
    )
    known = {"square-on.jpg": read_view(photo, file="square-on.jpg", card=marks.card)}

    def live() -> object:
        return measure(marks, {"square-on.jpg": photo}, draws=LIVE_DRAWS, known=known)

    return {
        "find the card (once a photo)": median_ms(lambda: find_card(photo.pixels)),
        "propose the outer contour": median_ms(
            lambda: trace(photo.pixels, taps[0], "outer", mm_per_px)
        ),
        "propose the inner crease": median_ms(
            lambda: trace(photo.pixels, taps[1], "inner", mm_per_px)
        ),
        "snap to a pen dot": median_ms(lambda: snap(photo.pixels, dot + 4.0, mm_per_px)),
        f"the number while a point is dragged ({LIVE_DRAWS:,} draws)": median_ms(live),
    }


def load() -> str:
    """Return how many processes wanted a processor in the last minute, in words."""
    return f"{os.getloadavg()[0]:.1f} processes wanted its {os.cpu_count()} cores"


def speed_table(found: dict[str, Times], loaded: str) -> str:
    """Return the steps' times as Markdown."""
    whole = next(iter(found.values()))[1]
    lines = [
        "# Speed of the help with marking",
        "",
        f"`python -m benchmarks.speed`; {datetime.now(UTC):%Y-%m-%d}, Python "
        f"{platform.python_version()}, {platform.system()} {platform.machine()}. Times hold for "
        "this machine and its load. A 12 MP photo.",
        "",
        "## Each step alone",
        "",
        f"Median of {TURNS} turns, without the browser's and the server's own time; {loaded}.",
        "",
        "| step | ms | of which processor, ms | of finding the card |",
        "| --- | ---: | ---: | ---: |",
        *(
            f"| {name} | {waited:.0f} | {worked:.0f} | {worked / whole:.2f} |"
            for name, (waited, worked) in found.items()
        ),
    ]
    return "\n".join(lines) + "\n"


def browser_table(found: dict[str, list[float]], loaded: str) -> str:
    """Return what a piercer waits for as Markdown."""
    lines = [
        "## In a browser",
        "",
        f"A headless Chromium at a running server on the same machine; {loaded}.",
        "",
        "| what is waited for | times | median, ms | nine in ten under, ms | aim, ms |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for name, times in found.items():
        aim = f"{AIMS_MS[name]:.0f}" if name in AIMS_MS else ""
        middle, most = statistics.median(times), float(np.percentile(times, 90))
        lines.append(f"| {WORDS[name]} | {len(times)} | {middle:.0f} | {most:.0f} | {aim} |")
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run every step, print the tables and write them down; with --engines the propagation's."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--engines", action="store_true", help="the propagation, in engines.md")
    if parser.parse_args().engines:
        engines.main()
        return
    data = photo_12mp()
    outer, ends = lines_and_ends()[0][0], lines_and_ends()[1]
    alone = speed_table(steps(read_photo(data)), load())
    in_use = in_browser(data, outer[[2, len(outer) // 2, -3]], ends)
    table = f"{alone}\n{browser_table(in_use, load())}"
    print(table)
    Path(__file__).with_name("speed.md").write_text(table, encoding="utf-8")


if __name__ == "__main__":
    main()
