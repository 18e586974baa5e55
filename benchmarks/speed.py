"""How long the help with marking takes: ``python -m benchmarks.speed``.

On a sample photo drawn up to 12 MP.  Times hold for one machine; the ratios to finding the card
in the same photo and run are what to compare.  Writes ``benchmarks/speed.md``.
"""

from __future__ import annotations

import io
import json
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
from calibration.find import CardSeen, find_card
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


def photo_12mp() -> Photo:
    """Return the sample's square-on photo at twice its size."""
    folder = Path(__file__).parents[1] / "sample_images" / SAMPLE
    whole = read_photo((folder / "square-on.jpg").read_bytes())
    size = (whole.size[0] * FACTOR, whole.size[1] * FACTOR)
    out = io.BytesIO()
    large = cv2.resize(whole.pixels, size, interpolation=cv2.INTER_CUBIC)
    Pillow.fromarray(large).save(out, "JPEG", quality=90)
    return read_photo(out.getvalue())


def median_ms(act: Callable[[], object]) -> float:
    """Return the median time of ``act``, ms, after one turn to warm up."""
    act()
    times = []
    for _ in range(TURNS):
        start = time.perf_counter()
        act()
        times.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(times)


def run() -> dict[str, float]:
    """Return each step's median time, ms."""
    photo = photo_12mp()
    sample = sample_set(SAMPLE)
    view, standing = sample.view("square-on"), sample.standing
    lines = contours(sample.ear, standing.to_ear(view.centre_card[None])[0], 60)
    outer, inner = (FACTOR * view.pixels(standing.to_card(line)) for line in lines)
    rng = np.random.default_rng(3)
    folder = Path(__file__).parents[1] / "sample_images" / SAMPLE
    told = json.loads((folder / "square-on.truth.json").read_text("utf-8"))["placements"]["A"]
    ends = FACTOR * np.array([told["points"][name]["px"] for name in ("entry", "exit")])
    mm_per_px = float(told["channel_mm"] / np.hypot(*(ends[0] - ends[1])))
    taps = [
        line[[1, 20, 40, -2]] + rng.normal(0.0, 0.4 / mm_per_px, (4, 2)) for line in (outer, inner)
    ]
    dot = FACTOR * np.array(told["points"]["crest"]["px"])
    marks = json.loads((folder / "marks.json").read_text("utf-8"))
    (entry,) = [p for p in marks["photos"] if p["file"] == "square-on.jpg"]
    for name in ("outer_rim", "inner_rim"):
        entry.pop(name)
    small = read_photo((folder / "square-on.jpg").read_bytes())
    parsed = parse_marks({**marks, "photos": [entry]})
    card = find_card(small.pixels)
    seen = {"square-on.jpg": card} if isinstance(card, CardSeen) else None

    def live() -> object:
        return measure(parsed, {"square-on.jpg": small}, draws=LIVE_DRAWS, seen=seen)

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


def speed_table(found: dict[str, float]) -> str:
    """Return the times as Markdown."""
    whole = next(iter(found.values()))
    lines = [
        "# Speed of the help with marking",
        "",
        f"`python -m benchmarks.speed`; {datetime.now(UTC):%Y-%m-%d}, Python "
        f"{platform.python_version()}, {platform.system()} {platform.machine()}, median of "
        f"{TURNS} turns on a 12 MP photo, without the browser's and the server's own time.",
        "",
        "| step | ms | of finding the card |",
        "| --- | ---: | ---: |",
        *(f"| {name} | {ms:.0f} | {ms / whole:.2f} |" for name, ms in found.items()),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run every step, print the table and write it down."""
    table = speed_table(run())
    print(table)
    Path(__file__).with_name("speed.md").write_text(table, encoding="utf-8")


if __name__ == "__main__":
    main()
