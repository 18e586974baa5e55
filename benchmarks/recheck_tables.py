"""The report of ``python -m benchmarks.accuracy --recheck``, in ``benchmarks/recheck.md``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assess.recheck_change import Change, NotComparable
from benchmarks import recheck, recheck_pixels, recheck_views
from benchmarks.recheck import MARKINGS, PairScore
from benchmarks.recheck_cells import FOUND_SHIFT_MM, FOUND_TILT_DEG, percent, rms
from benchmarks.recheck_pixels import Rendered, pixel_lines
from benchmarks.recheck_space_tables import space_lines
from benchmarks.recheck_views import SpaceScore
from benchmarks.tables import machine


def said_of(scores: Sequence[PairScore]) -> list[PairScore]:
    """Return the pairs that were compared."""
    return [s for s in scores if isinstance(s.change, Change)]


HEAD = (
    "| pairs | n | tilt RMS ° | median U ° | inside, % | entry RMS mm | median U mm | inside, % | "
    "exit RMS mm | median U mm | inside, % |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)


def row(name: str, scores: Sequence[PairScore]) -> str:
    """Return one line: errors, U, and how often the truth lies inside."""
    if not scores:
        return f"| {name} | 0 |" + " - |" * 9
    cells = [
        f"{rms([s.tilt_error() for s in scores]):.2f}",
        f"{float(np.median([s.tilt_U() for s in scores])):.2f}",
        f"{100 * float(np.mean([s.tilt_inside() for s in scores])):.1f}",
    ]
    for end in (0, 1):
        cells += [
            f"{rms([s.shift_error(end) for s in scores]):.2f}",
            f"{float(np.median([s.shift_U(end) for s in scores])):.2f}",
            f"{100 * float(np.mean([s.shift_inside(end) for s in scores])):.1f}",
        ]
    return f"| {name} | {len(scores)} | " + " | ".join(cells) + " |"


def false_moves(scores: Sequence[PairScore]) -> tuple[list[bool], list[bool], list[bool]]:
    """Return of unchanged pairs whether tilt, entry and exit are said to have moved."""
    still = [s for s in said_of(scores) if not s.changed]
    tilt = [s.change.tilt.moved for s in still if isinstance(s.change, Change)]
    return tilt, [s.shift_moved(0) for s in still], [s.shift_moved(1) for s in still]


def found_moves(scores: Sequence[PairScore]) -> tuple[list[bool], list[bool]]:
    """Return of large changes whether they are said: of tilts, and of both ends' shifts."""
    moved = [s for s in said_of(scores) if s.changed]
    tilts = [
        s.change.tilt.moved
        for s in moved
        if isinstance(s.change, Change) and abs(s.tilt_true) > FOUND_TILT_DEG
    ]
    shifts = [
        s.shift_moved(end)
        for s in moved
        for end in (0, 1)
        if float(np.linalg.norm(s.shifts_true[end])) > FOUND_SHIFT_MM
    ]
    return tilts, shifts


def _refusals(scores: Sequence[PairScore]) -> str:
    hidden = sum(s.change is None for s in scores)
    whys = [s.change.why for s in scores if isinstance(s.change, NotComparable)]
    parts = [f"{whys.count(why)} {why}" for why in sorted(set(whys))]
    return f"{hidden} with a hidden end; refused: {', '.join(parts) or 'none'}"


def _cells_of(said: Sequence[PairScore]) -> list[str]:
    return [
        HEAD,
        row("**all**", said),
        row("unchanged", [s for s in said if not s.changed]),
        row("moved", [s for s in said if s.changed]),
        "",
    ]


def _marking_lines(marking: str, own: Sequence[PairScore]) -> list[str]:
    said = said_of(own)
    tilt, entry, exit_ = false_moves(own)
    tilts, shifts = found_moves(own)
    return [
        f"## Marked: {marking}",
        "",
        f"{len(own)} pairs, {_refusals(own)}.",
        "",
        *_cells_of(said),
        "| | % (of) |\n| --- | ---: |",
        f"| unchanged, tilt said to have moved | {percent(tilt)} |",
        f"| unchanged, entry's end said to have moved | {percent(entry)} |",
        f"| unchanged, exit's end said to have moved | {percent(exit_)} |",
        f"| tilt over {FOUND_TILT_DEG:g}° found | {percent(tilts)} |",
        f"| shift over {FOUND_SHIFT_MM:g} mm found | {percent(shifts)} |",
        "",
    ]


def rendered_lines(found: Sequence[Rendered], tried: int) -> list[str]:
    """Return the part of rendered pairs."""
    scores = [each.score for each in found]
    said = said_of(scores)
    tilt, entry, exit_ = false_moves(scores)
    tilts, shifts = found_moves(scores)
    return [
        "# Rendered pairs: the ends found in pixels",
        "",
        "By one photo of each visit, traced outlines, as in the first part; but the post is drawn, "
        "a bar with balls of 3 mm of steel, gold or dark metal, from brushed to polished, and each "
        "end is looked for by the program in a rendered window "
        f"of {recheck_pixels.WINDOW_PX} px after a tap (sd {recheck_pixels.TAP_MM:g} mm). Where it "
        "takes none, or plainly another thing, the end is marked by hand (sd 0.2 mm). Seeds "
        f"{recheck_pixels.EARS_SEED} and {recheck_pixels.SEED}.",
        "",
        *pixel_lines(list(found), tried),
        *_cells_of(said),
        f"Unchanged, said to have moved: tilt {percent(tilt)} %, entry {percent(entry)} %, exit "
        f"{percent(exit_)} %. Tilt over {FOUND_TILT_DEG:g}° found: {percent(tilts)} %; shift over "
        f"{FOUND_SHIFT_MM:g} mm: {percent(shifts)} %.",
        "",
    ]


def recheck_table(
    scores: Sequence[PairScore],
    pairs: int,
    space: tuple[Sequence[SpaceScore], int],
    drawn: tuple[Sequence[Rendered], int],
) -> str:
    """Return the whole report.

    Parameters
    ----------
    scores, pairs : of one view, and how many unchanged pairs were tried
    space, drawn : the same in space, and of rendered pairs
    """
    lines = [
        "# The second visit",
        "",
        f"`python -m benchmarks.accuracy --recheck --scenes {pairs}`; {machine()}. "
        "The models were tuned on the 14 named ears and on drawn ears of other seeds; nothing was "
        "tuned on the seeds below.",
        "",
        "# One photo of each visit",
        "",
        f"{len(scores)} pairs by geometry over {recheck.EARS_COUNT} drawn ears (seeds "
        f"{recheck.EARS_SEED} and {recheck.SEED}). "
        "12 MP from 200-300 mm; the card put on anew at each visit (rim tilted against it by sd "
        "5.8° on each axis, turned by sd 4°, offset ±10 mm told with sd 3 mm); view up to 10° off "
        "the card's "
        "normal, up to 5° off the baseline's by the cards; a post with 3 mm to spare that leans "
        "by sd 10° out of the rim's plane and slides by sd 0.3 mm. Tilt to 15°, shift to 4 mm, "
        "swelling to 2 mm (of unchanged posts too). *traced*: outlines to 1 px, ends to 0.5 px; "
        "*by hand*: 2 and 1.5 px. The outer outline runs from the front to near the lobe.",
        "",
    ]
    for marking in MARKINGS:
        lines += _marking_lines(marking, [s for s in scores if s.marking == marking])
    lines += ["## By ear", "", HEAD]
    traced = said_of([s for s in scores if s.marking == "traced"])
    names = list(dict.fromkeys(s.ear for s in traced))
    lines += [row(f"ear {i}", [s for s in traced if s.ear == n]) for i, n in enumerate(names, 1)]
    lines += ["", *space_lines(*space), *rendered_lines(*drawn)]
    return "\n".join(lines)


def recheck_report(pairs: int) -> str:
    """Run everything and return the report.

    In space a quarter as many pairs in each of the four settings, on pixels an 18th.
    """
    some, fewer = max(pairs // 4, 2), max(pairs // 18, 2)
    return recheck_table(
        recheck.run_recheck(pairs),
        pairs,
        (recheck_views.run_views(some), some),
        (list(recheck_pixels.run_pixels(fewer)), fewer),
    )
