"""What a whole photo costs: each stage's time from bytes to result, and the memory's peak."""

from __future__ import annotations

import io
import json
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import cv2
from PIL import Image as Pillow

from assess.marks import Marks
from assess.measure import Measurement, measure
from assess.read_marks import parse_marks
from assess.reading import read_view
from calibration.find import CardSeen, find_card
from calibration.lens import lens_prior
from calibration.photo import read_photo
from calibration.pose import fit_plane

SAMPLES = Path(__file__).parents[1] / "sample_images"
FACTOR = 2
T = TypeVar("T")
DEMO = ("pronounced", "three")


def sample_marks(name: str, photo: str = "square-on.jpg") -> tuple[dict[str, Any], Path]:
    """Return a sample's marks in one of its photos alone, and the sample's folder."""
    folder = SAMPLES / name
    marks = json.loads((folder / "marks.json").read_text("utf-8"))
    photos = [entry for entry in marks["photos"] if entry["file"] == photo]
    return {**marks, "photos": photos}, folder


def enlarged(value: Any) -> Any:  # noqa: ANN401  (whatever JSON holds)
    """Return a photo's marks at ``FACTOR`` times its size: every pair of numbers is a point."""
    if isinstance(value, dict):
        return {key: enlarged(inner) for key, inner in value.items()}
    if isinstance(value, list):
        if len(value) == 2 and all(isinstance(x, int | float) for x in value):
            return [FACTOR * (x + 0.5) - 0.5 for x in value]
        return [enlarged(inner) for inner in value]
    return value


def photo_12mp(name: str) -> tuple[bytes, dict[str, Any]]:
    """Return a sample's square-on photo at twice its size as JPEG, and its marks."""
    marks, folder = sample_marks(name)
    (entry,) = marks["photos"]
    whole = read_photo((folder / entry["file"]).read_bytes())
    size = (whole.size[0] * FACTOR, whole.size[1] * FACTOR)
    out = io.BytesIO()
    large = cv2.resize(whole.pixels, size, interpolation=cv2.INTER_CUBIC)
    Pillow.fromarray(large).save(out, "JPEG", quality=90)
    photo = {**enlarged(entry), "sigma_px": FACTOR * entry["sigma_px"]}
    return out.getvalue(), {**marks, "photos": [photo]}


class Stages:
    """Wall and CPU seconds of each stage, turn by turn."""

    def __init__(self) -> None:
        self.times: dict[str, list[tuple[float, float]]] = {}

    def run(self, name: str, act: Callable[[], T]) -> T:
        """Return what ``act`` returns, and note how long it took."""
        wall, cpu = time.perf_counter(), time.process_time()
        found = act()
        spent = (time.perf_counter() - wall, time.process_time() - cpu)
        self.times.setdefault(name, []).append(spent)
        return found

    def rows(self) -> list[str]:
        """Return the medians as rows of a table, ms; what a later stage does again isn't summed."""
        rows = ["| stage | ms | CPU ms |", "| --- | ---: | ---: |"]
        whole = [0.0, 0.0]
        for name, spent in self.times.items():
            medians = [1e3 * statistics.median(part) for part in zip(*spent, strict=True)]
            rows.append(f"| {name} | {medians[0]:.0f} | {medians[1]:.0f} |")
            if "again" not in name:
                whole = [a + b for a, b in zip(whole, medians, strict=True)]
        return [*rows, f"| **together** | {whole[0]:.0f} | {whole[1]:.0f} |"]


def stage_rows(turns: int) -> list[str]:
    """Return the stages of one 12 MP photo as rows of a table."""
    data, document = photo_12mp("pronounced")
    marks = parse_marks(document)
    _once(data, marks, Stages())  # to warm up
    stages = Stages()
    for _ in range(turns):
        _once(data, marks, stages)
    return stages.rows()


def _once(data: bytes, marks: Marks, stages: Stages) -> None:
    (entry,) = marks.photos
    photo = stages.run("decode", lambda: read_photo(data))
    card = stages.run("find the card", lambda: find_card(photo.pixels))
    if not isinstance(card, CardSeen):
        raise TypeError(card.sentence)
    corners, prior = card.card.corners_mm(card.corner_ids), lens_prior(photo.facts)
    stages.run(
        "fit lens and pose",
        lambda: fit_plane(card.corners_px, corners, prior),
    )
    known = read_view(photo, file=entry.file, entry=entry, card=marks.card)
    done: Measurement = stages.run(
        "measure, card and pose known",
        lambda: measure(marks, {entry.file: photo}, known={entry.file: known}),
    )
    stages.run("result as JSON", done.result.model_dump_json)


PEAK = """
import json, sys, tracemalloc
from pathlib import Path
from assess.measure import measure
from assess.read_marks import parse_marks
from calibration.photo import read_photo

def peak_mb():
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024

imported = peak_mb()
document, sizes = json.loads(sys.stdin.buffer.readline())
marks = parse_marks(document)
files = [photo.file for photo in marks.photos]
photos = {file: read_photo(sys.stdin.buffer.read(size)) for file, size in zip(files, sizes)}
decoded = peak_mb()
if sys.argv[1] == "traced":
    tracemalloc.start()
measure(marks, photos)
own = tracemalloc.get_traced_memory()[1] / 2**20 if sys.argv[1] == "traced" else 0.0
print(json.dumps([imported, decoded, peak_mb(), own]))
"""
"""Of Linux, in a process of its own: ``getrusage`` would count its parent's memory too."""


def memory_rows() -> list[str]:
    """Return the peak memory of measuring a demo's marks, each in a process of its own."""
    rows = [
        "Peak resident memory of a fresh process (`VmHWM`), and what `assess.measure.measure` "
        "allocates at most for arrays and objects (`tracemalloc`, in another process; OpenCV's "
        "own isn't in it).",
        "",
        "| marks | after imports, MB | photo decoded, MB | measured, MB | measure's own, MB |",
        "| --- | ---: | ---: | ---: | ---: |",
    ]
    for name in DEMO:
        for what, data, document in _sets(name):
            imported, decoded, whole, _ = _peak("plain", data, document)
            own = _peak("traced", data, document)[-1]
            rows.append(
                f"| {name}, {what} | {imported:.0f} | {decoded:.0f} | {whole:.0f} | {own:.0f} |"
            )
    return rows


def _sets(name: str) -> Iterator[tuple[str, list[bytes], dict[str, Any]]]:
    marks = json.loads((SAMPLES / name / "marks.json").read_text("utf-8"))
    data = [(SAMPLES / name / entry["file"]).read_bytes() for entry in marks["photos"]]
    yield f"all {len(data)} photos of 3 MP", data, marks
    large, document = photo_12mp(name)
    yield "one photo of 12 MP", [large], document


def _peak(how: str, data: list[bytes], marks: dict[str, Any]) -> list[float]:
    done = subprocess.run(  # noqa: S603  (our own program)
        [sys.executable, "-c", PEAK, how],
        cwd=SAMPLES.parent,
        input=b"\n".join([json.dumps([marks, [*map(len, data)]]).encode(), b"".join(data)]),
        capture_output=True,
        check=True,
    )
    return [float(x) for x in json.loads(done.stdout)]
