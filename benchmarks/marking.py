"""Contours proposed from taps, and dots snapped to, against the truth of rendered pictures."""

from __future__ import annotations

import platform
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.spatial import cKDTree

from benchmarks.dot_scenes import DOTS, FOCAL_PX, NOT_DOTS, dot_scene, what_is_behind
from benchmarks.marking_scenes import BACKGROUNDS, RimScene, rim_scene
from calibration.frames import Array
from tracing.contour import Contour, trace
from tracing.dots import WHY, Dot, snap
from tracing.search import Kind
from tracing.strip import chords, through

SEED = 20261126
TAPS = (3, 4)
TAP_SD_MM = 0.5
WIDE_PX = 2.0
"""What is seen less wide than one pair of lines, two pixels, is noticed by fewer than half of those
who look for it (J. Johnson, Analysis of image forming systems, 1958, from memory); it has hardly a
pixel of its own colour either."""
MEDIUM_PX = 1.5
"""Between the two: dots so wide are told apart too, for where one stops to count is a choice."""
LEAST_PX = 1.0
"""One that is seen less wide than this shows in no pixel as it is."""
HALF = 0.3
"""A dot of whose width so much is seen is about half round its edge; less is a sliver of it."""
GOOD = ("hair", "plain")
"""Backgrounds that differ from skin: good contrast for the outer contour."""


@dataclass(frozen=True, eq=False)
class ContourScore:
    """One trace: errors across the true contour, mm, of what was drawn by then."""

    kind: Kind
    behind: str
    taps: int
    by_taps: Array
    proposal: Array
    refined: Array
    u_mm: Array
    in_gap: Array

    @property
    def good(self) -> bool:
        """Return whether the contrast is good: all but an outer contour against skin."""
        return self.kind == "inner" or self.behind in GOOD


@dataclass(frozen=True, slots=True)
class DotScore:
    """One tap: whether it snapped, its error (px, both axes together) and u (px, each axis).

    ``width_px`` is how wide the dot is seen where it is narrowest, ``share`` that over its
    diameter: how much of its face shows; ``behind`` lies behind the rim; ``photo`` is the photo's
    size; ``midway`` that the tap was told to lie about as near to two dots.
    """

    kind: str
    snapped: bool
    error_px: float
    u_px: float
    width_px: float
    share: float
    behind: str
    photo: str
    midway: bool = False


def errors_mm(points: Array, truth: Array, px_per_mm: float) -> tuple[Array, Array]:
    """Return signed distances of points, (N, 2) px, from a contour, mm, and which have one.

    A point beyond the contour's ends has none.
    """
    along = chords(truth)
    dense = CubicSpline(along, truth)(np.linspace(0.0, along[-1], 2000))
    _, index = cKDTree(dense).query(points)
    inside = (index > 0) & (index < len(dense) - 1)
    at = index[inside]
    run = dense[at + 1] - dense[at - 1]
    run = run / np.linalg.norm(run, axis=1, keepdims=True)
    gap = points[inside] - dense[at]
    return (gap[:, 0] * run[:, 1] - gap[:, 1] * run[:, 0]) / px_per_mm, inside


def contour_scores(index: int) -> list[ContourScore]:
    """Return the scores of one rim scene."""
    scene = rim_scene(SEED, index)
    rng = np.random.default_rng([SEED, index, 1])
    kinds: tuple[Kind, Kind] = ("outer", "inner")
    return [_scored(scene, kind, count, rng) for kind in kinds for count in TAPS]


def _scored(scene: RimScene, kind: Kind, count: int, rng: np.random.Generator) -> ContourScore:
    line = scene.outer_px if kind == "outer" else scene.inner_px
    along = chords(line)
    places = CubicSpline(along, line)(np.linspace(0.0, along[-1], count))
    taps = places + TAP_SD_MM * scene.px_per_mm * rng.standard_normal(places.shape)
    mm_per_px = 1.0 / scene.px_per_mm
    drawn = [trace(scene.picture, taps, kind, mm_per_px, snug=snug) for snug in (False, True)]
    if not isinstance(drawn[0], Contour) or not isinstance(drawn[1], Contour):
        raise TypeError("a trace was refused")
    spline, _ = errors_mm(through(taps, 1.0).points, line, scene.px_per_mm)
    proposal, _ = errors_mm(drawn[0].line, line, scene.px_per_mm)
    refined, inside = errors_mm(drawn[1].line, line, scene.px_per_mm)
    gap = np.zeros(len(drawn[1].line), dtype=bool)
    for first, last in drawn[1].gaps:
        gap[first : last + 1] = True
    u_mm = drawn[1].u_px[inside] * mm_per_px
    return ContourScore(
        kind, scene.behind, count, spline, proposal, refined, u_mm, gap[inside].astype(np.float64)
    )


def dot_score(task: tuple[int, int, str]) -> DotScore | None:
    """Return the score of one tap (seed, index, kind); None where no dot is seen enough."""
    scene = dot_scene(*task)
    if scene is None:
        return None
    kind = scene.kind
    share = scene.width_px / (scene.diameter_mm * scene.px_per_mm)
    seen = scene.width_px, share, what_is_behind(task[1], kind), scene.photo
    found = snap(scene.picture, scene.near_px, 1.0 / scene.px_per_mm)
    if not isinstance(found, Dot):
        midway = found.sentence == WHY["either"]
        return DotScore(kind, False, float("nan"), float("nan"), *seen, midway)
    if scene.dot_px is None:
        return DotScore(kind, True, float("nan"), found.u_px, *seen)
    error_px = float(np.hypot(*(found.point_px - scene.dot_px)))
    return DotScore(kind, True, error_px, found.u_px, *seen)


def run_marking(scenes: int, dots: int) -> str:
    """Return the tables of ``scenes`` rims and ``dots`` taps of each kind."""
    with ProcessPoolExecutor() as pool:
        traced = [s for found in pool.map(contour_scores, range(scenes)) for s in found]
    return marking_table(traced, dot_scores(SEED, dots, dots), scenes)


def dot_scores(seed: int, dots: int, others: int) -> list[DotScore]:
    """Return the scores of ``dots`` taps of each kind of dot, ``others`` of each that is none."""
    tasks = [(seed, i, kind) for kind in DOTS for i in range(dots)]
    tasks += [(seed, i, kind) for kind in NOT_DOTS for i in range(others)]
    with ProcessPoolExecutor() as pool:
        return [s for s in pool.map(dot_score, tasks, chunksize=4) if s is not None]


def _rms(parts: Iterable[Array]) -> float:
    return float(np.sqrt(np.mean(np.concatenate(list(parts)) ** 2)))


def _contour_row(name: str, scores: Sequence[ContourScore]) -> str:
    clear = [s.in_gap < 0.5 for s in scores]
    seen = [s.refined[c] for s, c in zip(scores, clear, strict=True)]
    u = [s.u_mm[c] for s, c in zip(scores, clear, strict=True)]
    gaps = 100.0 * float(np.mean(np.concatenate([s.in_gap for s in scores])))
    taps, refined = _rms(s.by_taps for s in scores), _rms(s.refined for s in scores)
    head = (
        f"| {name} | {len(scores)} | {taps:.3f} | {_rms(s.proposal for s in scores):.3f} | "
        f"{refined:.3f} | {refined / taps:.2f} | {gaps:.0f} |"
    )
    if not sum(len(part) for part in seen):
        return f"{head} - | - | - |"
    ratio = _rms(e / v for e, v in zip(seen, u, strict=True) if len(e))
    return f"{head} {_rms(seen):.3f} | {np.median(np.concatenate(u)):.3f} | {ratio:.2f} |"


def _dot_row(kind: str, scores: Sequence[DotScore]) -> str:
    hits = [s for s in scores if s.snapped]
    missed = 100.0 * (1.0 - len(hits) / len(scores))
    if not hits:
        return f"| {kind} | {len(scores)} | {missed:.0f} | - | - | - |"
    error, u = (np.array([getattr(s, n) for s in hits]) for n in ("error_px", "u_px"))
    rms = float(np.sqrt(np.mean(error**2)))
    ratio = float(np.sqrt(np.mean(error**2 / (2.0 * u**2))))
    return (
        f"| {kind} | {len(scores)} | {missed:.0f} | {rms:.2f} | {np.median(error):.2f} | "
        f"{ratio:.2f} |"
    )


def marking_table(traced: Sequence[ContourScore], snapped: Sequence[DotScore], scenes: int) -> str:
    """Return both tables as Markdown."""
    lines = [
        "# Help with marking: contours and dots",
        "",
        f"`python -m benchmarks.accuracy --marking`; {datetime.now(UTC):%Y-%m-%d}, Python "
        f"{platform.python_version()}, numpy {np.__version__}, {platform.system()} "
        f"{platform.machine()}.",
        "",
        "## Contours",
        "",
        f"{scenes} rendered rims of 14 parameter ears, 5-11 px per mm, up to 20° tilted; three "
        f"or four taps with sd {TAP_SD_MM} mm on each axis. Errors are RMS distances across the "
        "true visible contour, mm; by taps: a cubic spline through them. In gaps the picture "
        "shows no edge and the line follows the taps.",
        "",
        "| contour, behind it, taps | n | by taps | proposal | refined | refined / taps | in gaps, "
        "% | refined outside gaps | median u mm | RMS(error / u) |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
        _contour_row("**good contrast, all**", [s for s in traced if s.good]),
    ]
    for kind in ("outer", "inner"):
        for behind in BACKGROUNDS:
            for taps in TAPS:
                part = [
                    s for s in traced if s.kind == kind and s.behind == behind and s.taps == taps
                ]
                lines.append(_contour_row(f"{kind}, {behind}, {taps}", part))
    lines += ["", "## Dots", "", *_dot_lines(snapped)]
    return "\n".join(lines) + "\n"


def _edge_parts(dots: Sequence[DotScore]) -> dict[str, list[DotScore]]:
    """Return the dots on an edge by how much of them is seen and what lies behind."""
    edge = [s for s in dots if s.kind == "edge"]
    wide = [s for s in edge if s.width_px >= WIDE_PX]
    narrow = [s for s in edge if LEAST_PX <= s.width_px < WIDE_PX]
    return {
        f"edge, {WIDE_PX:g} px wide and more": wide,
        "of these before hair": [s for s in wide if s.behind == "hair"],
        "of these before cloth or skin": [s for s in wide if s.behind != "hair"],
        f"edge, {LEAST_PX:g} to {WIDE_PX:g} px wide": narrow,
        f"{LEAST_PX:g} to {WIDE_PX:g} px, before hair": [s for s in narrow if s.behind == "hair"],
        f"{LEAST_PX:g} to {WIDE_PX:g} px, before cloth or skin": [
            s for s in narrow if s.behind != "hair"
        ],
        f"edge, narrower than {LEAST_PX:g} px": [s for s in edge if s.width_px < LEAST_PX],
        f"edge, {HALF:.0%} of its width and more": [s for s in edge if s.share >= HALF],
        f"edge, less than {HALF:.0%} of its width": [s for s in edge if s.share < HALF],
    }


def _parts(dots: Sequence[DotScore]) -> dict[str, list[DotScore]]:
    """Return the dots by the photo's size, by how wide they are seen and by kind."""
    wide = {least: [s for s in dots if s.width_px >= least] for least in (MEDIUM_PX, WIDE_PX)}
    return {
        "**all**": list(dots),
        **{f"**all, {photo}**": [s for s in dots if s.photo == photo] for photo in FOCAL_PX},
        **{f"**all, {least:g} px wide and more**": part for least, part in wide.items()},
        f"all, {WIDE_PX:g} px wide and more, no tap midway": [
            s for s in wide[WIDE_PX] if not s.midway
        ],
        **{kind: [s for s in dots if s.kind == kind] for kind in DOTS},
        **_edge_parts(dots),
    }


def _dot_lines(snapped: Sequence[DotScore]) -> list[str]:
    dots = [s for s in snapped if s.kind in DOTS]
    lines = [
        "Dots of 0.6-1.5 mm in four inks on four skins, 150-400 mm away, 12 MP and 3 MP; taps "
        "with sd 0.5 mm on each axis. Errors are distances from where the centre of the dot "
        "nearest to the tap is seen, px; u is of each axis. What is not snapped is a miss, also "
        "where a pair is refused because the tap does not tell which is meant.",
        "",
        "| dot | n | not snapped, % | RMS px | median px | RMS(error / u) |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    lines += [_dot_row(name, part) for name, part in _parts(dots).items() if part]
    return [*lines, *_other_lines([s for s in snapped if s.kind in NOT_DOTS])]


def _other_lines(other: Sequence[DotScore]) -> list[str]:
    if not other:
        return []
    share = 100.0 * float(np.mean([s.snapped for s in other]))
    lines = [
        "",
        f"Of {len(other)} taps where there is no dot, {share:.1f} % snapped to something:",
        "",
        "| tapped | n | snapped |",
        "| --- | ---: | ---: |",
    ]
    for kind in NOT_DOTS:
        part = [s.snapped for s in other if s.kind == kind]
        lines.append(f"| {kind} | {len(part)} | {sum(part)} |")
    return lines


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:4]]
    print("\n".join(_dot_lines(dot_scores(*given))))
