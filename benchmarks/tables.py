"""The accuracy table in words and numbers."""

from __future__ import annotations

import platform
import subprocess
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from benchmarks.accuracy import Score

K95 = 1.96


def commit() -> str:
    """Return the commit of the sources, with a mark if they were changed since."""
    ask = ["git", "describe", "--always", "--dirty=, changed since"]
    done = subprocess.run(  # noqa: S603  (fixed words)
        ask, capture_output=True, text=True, check=False, cwd=Path(__file__).parent
    )
    return done.stdout.strip() or "unknown"


def rms(scores: Iterable[Score]) -> float:
    """Return the root mean square of the errors, mm."""
    return float(np.sqrt(np.mean([s.error_mm**2 for s in scores])))


def plain_rms(scores: Iterable[Score]) -> float:
    """Return the root mean square of the plain scale's errors, mm."""
    return float(np.sqrt(np.mean([(s.plain_mm - s.truth_mm) ** 2 for s in scores])))


def median_U(scores: Iterable[Score]) -> float:  # noqa: N802  (U is the expanded uncertainty)
    """Return the median half width of the 95 % intervals, mm."""
    return float(np.median([(s.stated.high - s.stated.low) / 2 for s in scores]))


def coverage(scores: Sequence[Score]) -> float:
    """Return the share of scenes whose truth lies in the 95 % interval."""
    return float(np.mean([s.inside for s in scores]))


def row(name: str, scores: Sequence[Score]) -> str:
    """Return one line of the table."""
    if not scores:
        return f"| {name} | 0 | - | - | - | - | - | - |"
    ours, plain, u95 = rms(scores), plain_rms(scores), median_U(scores)
    bias = float(np.mean([s.error_mm for s in scores]))
    return (
        f"| {name} | {len(scores)} | {ours:.3f} | {bias:+.3f} | {plain:.3f} | {ours / plain:.2f} | "
        f"{u95:.3f} ({u95 / (K95 * ours):.2f}) | {100 * coverage(scores):.1f} |"
    )


HEAD = (
    "| scenes | n | RMS error mm | mean error mm | plain scale RMS mm | ratio | "
    "median U mm (over 1.96 RMS) | inside 95 % interval, % |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)


def thirds(scores: Sequence[Score], key: Callable[[Score], float]) -> list[list[Score]]:
    """Return the scores in three equal parts by ``key``, the lowest first."""
    ordered = sorted(scores, key=key)
    parts = np.array_split(np.arange(len(ordered)), 3)
    return [[ordered[i] for i in part] for part in parts]


def _split(title: str, scores: Sequence[Score], key: Callable[[Score], float]) -> list[str]:
    lines = []
    for part in thirds(scores, key):
        low, high = key(part[0]), key(part[-1])
        lines.append(row(f"{title} {low:.0f} to {high:.0f}", part))
    return lines


def _kind_rows(scores: Sequence[Score]) -> list[str]:
    lines = [HEAD, row("**all**", scores)]
    for noise in sorted({s.noise_px for s in scores}):
        for tilt, words in ((False, "rim parallel to the card"), (True, "rim tilted, sd 5.8°")):
            part = [s for s in scores if s.noise_px == noise and s.rim_tilt == tilt]
            lines.append(row(f"marks ± {noise:g} px, {words}", part))
    lines += _split("view tilt, degrees:", scores, lambda s: s.view_tilt_deg)
    lines += _split("distance, mm:", scores, lambda s: s.distance_mm)
    return lines


def _ear_rows(scores: Sequence[Score]) -> list[str]:
    lines = [HEAD]
    for ear in sorted({s.ear for s in scores}):
        lines.append(row(ear, [s for s in scores if s.ear == ear]))
    return lines


def machine() -> str:
    """Return what the figures were made on, without naming the machine."""
    return (
        f"{datetime.now(UTC):%Y-%m-%d}, Python {platform.python_version()}, "
        f"numpy {np.__version__}, {platform.system()} {platform.machine()}"
    )


def accuracy_table(scores: Sequence[Score], scenes: int) -> str:
    """Return the whole report."""
    ends = [s for s in scores if s.kind == "ends"]
    edges = [s for s in scores if s.kind == "edges"]
    ears = len({s.ear for s in scores})
    lines = [
        "# Accuracy of the channel from one view",
        "",
        f"{scenes} scenes by geometry over {ears} parameter ears (`python -m benchmarks.accuracy`; "
        f"{machine()}). Distance 150-400 mm, view tilt 0-20°, offset ±10 mm told with sd 3 mm, "
        "k1 ±0.05, focal length told with sd 3 %, print scale ±1.2 % with check bars read to "
        "0.05 mm, up to 40 % of the corners hidden, corners to 0.1 px. 12 MP. The plain scale is "
        "pixels per millimetre from one check bar, in the same scenes.",
        "",
        "## The ends' own places marked",
        "",
        *_kind_rows(ends),
        "",
        "## The visible edges marked",
        "",
        "The band's model error is derived without the scored ear.",
        "",
        *_kind_rows(edges),
        "",
        "### By ear",
        "",
        *_ear_rows(edges),
        "",
    ]
    return "\n".join(lines)
