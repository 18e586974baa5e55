"""Our propagation against other packages', and what a whole photo costs: time and memory.

``python -m benchmarks.engines`` writes ``benchmarks/engines.md``.  Times are the process's own
CPU time, so that a busy machine tells in them little; every turn runs each candidate once, and
ratios are taken within a turn.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assess.measure import read_photos
from assess.placing import measurement_in
from assess.read_marks import parse_marks
from assess.view_inputs import ViewMeasurement
from assess.view_model import OUTPUTS
from benchmarks.other_engines import (
    by_gtc,
    by_uncertainties,
    metrolopy_applied,
    metrolopy_channels,
    metrolopy_folded,
    seed_metrolopy,
    simulate,
)
from benchmarks.photo_cost import memory_rows, sample_marks, stage_rows
from benchmarks.tables import machine
from calibration import monte_carlo
from calibration.draws import Draws
from calibration.first_order import first_order
from calibration.frames import Array
from calibration.monte_carlo import propagate
from calibration.photo import read_photo

COUNT = 100_000
TURNS, SLOW_TURNS = 9, 3
CHUNKS = (1_000, 5_000, 10_000, 25_000, 50_000, 100_000)


def three_placements() -> ViewMeasurement:
    """Return the real model: three placements in one photo, all ends on visible edges."""
    document, folder = sample_marks("three")
    marks = parse_marks(document)
    (photo,) = marks.photos
    pictures = {photo.file: read_photo((folder / photo.file).read_bytes())}
    reading = read_photos(marks, pictures, None)[photo.file]
    return measurement_in(photo, list(marks.labels()), marks, reading)


@dataclass(frozen=True)
class Timed:
    """CPU seconds of one candidate, a turn each, and what it found last."""

    seconds: tuple[float, ...]
    found: Array

    @property
    def median_s(self) -> float:
        """Return the median."""
        return statistics.median(self.seconds)

    def over(self, other: Timed) -> float:
        """Return the median ratio of turns that both took part in."""
        pairs = zip(self.seconds, other.seconds, strict=False)
        return statistics.median(a / b for a, b in pairs)


def timed(
    candidates: Mapping[str, Callable[[], Array]], turns: Mapping[str, int]
) -> dict[str, Timed]:
    """Return each candidate's times over interleaved turns, after one turn to warm up."""
    for name, act in candidates.items():
        if turns[name] > SLOW_TURNS:
            act()
    seconds: dict[str, list[float]] = {name: [] for name in candidates}
    found: dict[str, Array] = {}
    for turn in range(max(turns.values())):
        for name, act in candidates.items():
            if turn < turns[name]:
                start = time.process_time()
                found[name] = act()
                seconds[name].append(time.process_time() - start)
    return {name: Timed(tuple(seconds[name]), found[name]) for name in candidates}


def drawn(view: ViewMeasurement) -> dict[str, Timed]:
    """Return the Monte Carlo candidates' times and channels, (P, COUNT)."""
    wide = len(OUTPUTS)
    single_drawn = metrolopy_applied(view.unfolded, view.inputs)
    folded_drawn = metrolopy_applied(view.folded, view.folded_inputs)
    seed_metrolopy(1)
    folded, single = metrolopy_folded(view), metrolopy_channels(view)
    candidates = {
        "ours": lambda: propagate(view.folded, view.folded_inputs, Draws(1, COUNT))[::wide],
        "metrolopy, its numbers, every input by itself": lambda: simulate(single, COUNT),
        "metrolopy, its numbers, lines of sight folded as ours": lambda: simulate(folded, COUNT),
        "metrolopy draws every input by itself, our array function computes": lambda: single_drawn(
            COUNT
        )[::wide],
        "metrolopy draws our folded inputs, our array function computes": lambda: folded_drawn(
            COUNT
        )[::wide],
    }
    turns = {name: SLOW_TURNS if "its numbers" in name else TURNS for name in candidates}
    return timed(candidates, turns)


def explained(view: ViewMeasurement) -> dict[str, Timed]:
    """Return the first-order candidates' times; value and u of each channel, (P, 2)."""

    def pairs(found: object) -> Array:
        return np.array([(one.value, one.u) for one in found])  # type: ignore[attr-defined]

    candidates = {
        "ours": lambda: pairs(first_order(view.unfolded, view.inputs)[:: len(OUTPUTS)]),
        "GTC": lambda: pairs(by_gtc(view)),
        "uncertainties": lambda: pairs(by_uncertainties(view)),
    }
    return timed(candidates, dict.fromkeys(candidates, TURNS))


def chunked(view: ViewMeasurement) -> dict[str, Timed]:
    """Return our Monte Carlo by how many draws the model takes at once, and in single floats."""

    def at(chunk: int) -> Callable[[], Array]:
        def run() -> Array:
            usual, monte_carlo.CHUNK = monte_carlo.CHUNK, chunk
            try:
                return propagate(view.folded, view.folded_inputs, Draws(1, COUNT))
            finally:
                monte_carlo.CHUNK = usual

        return run

    candidates = {f"float64, {chunk:,} at once": at(chunk) for chunk in CHUNKS}
    usual = monte_carlo.CHUNK
    candidates[f"float32, {usual:,} at once"] = lambda: in_single_floats(view, usual)
    return timed(candidates, dict.fromkeys(candidates, TURNS))


def in_single_floats(view: ViewMeasurement, chunk: int) -> Array:
    """Return the outputs where draws and model are in float32; normal draws made in it too."""
    model = replace(view.model, weights=view.model.weights.astype(np.float32))
    single = replace(view, model=model)
    values = {}
    for entry in view.folded_inputs:
        rng = Draws(1, COUNT).generator(entry.name)
        dof = entry.shape.dof
        heavy = np.sqrt(dof / rng.chisquare(dof, COUNT)) if np.isfinite(dof) else np.ones(1)
        parts = rng.standard_normal((entry.size, COUNT), dtype=np.float32)
        root, estimate = entry.root.astype(np.float32), entry.estimate.astype(np.float32)
        values[entry.name] = estimate[:, None] + root @ (parts * heavy.astype(np.float32))
    rows = [
        single.folded({name: row[:, at : at + chunk] for name, row in values.items()})
        for at in range(0, COUNT, chunk)
    ]
    return np.concatenate(rows, axis=1)


def rounding_mm(view: ViewMeasurement) -> float:
    """Return how far a channel in float32 lies at most from the same draw in float64, mm."""
    exact = {entry.name: entry.draw(Draws(1, COUNT)) for entry in view.folded_inputs}
    single = {name: values.astype(np.float32) for name, values in exact.items()}
    model = replace(view.model, weights=view.model.weights.astype(np.float32))
    rough = replace(view, model=model).folded(single)  # type: ignore[arg-type]
    return float(np.abs(rough - view.folded(exact))[:: len(OUTPUTS)].max())


def furthest(ours: Array, theirs: Array) -> float:
    """Return the largest gap of mean, sd and the 95 % ends, in its own standard errors."""

    def figures(rows: Array) -> Array:
        ends = np.quantile(rows, [0.025, 0.975], axis=1)
        return np.array([rows.mean(axis=1), rows.std(axis=1, ddof=1), *ends])

    def error(rows: Array) -> Array:
        parts = [figures(part) for part in np.array_split(rows, 25, axis=1)]
        return np.asarray(np.std(parts, axis=0, ddof=1) / 5.0)

    gap = np.abs(figures(ours) - figures(theirs)) / np.hypot(error(ours), error(theirs))
    return float(gap.max())


def _draw_lines(found: Mapping[str, Timed]) -> list[str]:
    ours = found["ours"]
    lines = [
        "| Monte Carlo | CPU ms | times ours | largest gap, standard errors |",
        "| --- | ---: | ---: | ---: |",
    ]
    for name, one in found.items():
        gap = "-" if one is ours else f"{furthest(ours.found, one.found):.1f}"
        lines.append(f"| {name} | {1e3 * one.median_s:,.0f} | {one.over(ours):.1f} | {gap} |")
    return lines


def _first_lines(found: Mapping[str, Timed]) -> list[str]:
    ours = found["ours"]
    lines = [
        "| first order, with budget | CPU ms | times ours | largest relative gap of u |",
        "| --- | ---: | ---: | ---: |",
    ]
    for name, one in found.items():
        gap = float(np.abs(one.found[:, 1] / ours.found[:, 1] - 1.0).max())
        words = "-" if one is ours else f"{gap:.0e}"
        lines.append(f"| {name} | {1e3 * one.median_s:.1f} | {one.over(ours):.0f} | {words} |")
    return lines


COMPARED = (
    "Ours gives channel, room below, angle and middle of each placement, the others in their "
    "own numbers the channel alone. metrolopy computes a shared intermediate anew wherever it "
    "occurs, so its own numbers show it at its slowest; where it only draws and our array "
    "function computes, with our folding too, it shows at its quickest. The gap is the "
    "largest of twelve figures (mean, sd, both 95 % ends of three channels) over its standard "
    "error from 25 parts: by chance alone 1 to 3.5."
)


def report() -> str:
    """Run everything and return it as Markdown."""
    view = three_placements()
    chunks = chunked(view)
    lines = [
        "# The engine against others, and what a photo costs",
        "",
        f"`python -m benchmarks.engines`; {machine()}, {os.cpu_count()} cores, one thread for "
        f"linear algebra (`OPENBLAS_NUM_THREADS={os.environ.get('OPENBLAS_NUM_THREADS', 'unset')}`)"
        f". CPU time of the process; medians of {TURNS} interleaved turns ({SLOW_TURNS} of what "
        "takes seconds), ratios within a turn.",
        "",
        f"## Three placements in one photo, {COUNT:,} draws",
        "",
        "The real model (`sample_images/three`, square-on, all ends on visible edges), "
        f"{len(view.inputs)} inputs with {sum(entry.size for entry in view.inputs)} components. "
        + COMPARED,
        "",
        *_draw_lines(drawn(view)),
        "",
        *_first_lines(explained(view)),
        "",
        "| our Monte Carlo | CPU ms |",
        "| --- | ---: |",
        *(f"| {name} | {1e3 * one.median_s:.0f} |" for name, one in chunks.items()),
        "",
        f"The same draws in float32 move a channel by up to {1e3 * rounding_mm(view):.2g} µm.",
        "",
        "## One 12 MP photo, from bytes to result",
        "",
        *stage_rows(TURNS),
        "",
        "## Memory",
        "",
        *memory_rows(),
    ]
    return "\n".join(lines) + "\n"


def main() -> None:
    """Print the report and write it down."""
    text = report()
    print(text)
    Path(__file__).with_name("engines.md").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
