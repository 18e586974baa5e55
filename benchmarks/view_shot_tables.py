"""The tables of dots on pixels, as a part of ``benchmarks/views.md`` that is made by itself."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from benchmarks.tables import machine
from benchmarks.view_faults import share
from benchmarks.view_pixels import DIAMETER_MM, PLAINLY_MM, TAP_MM, WINDOW_PX
from benchmarks.view_scenes import SETS
from benchmarks.view_shots import Shots
from benchmarks.view_tables import asked_words, cells
from benchmarks.view_whole import SHRUNK
from benchmarks.views import MOVED_MM

PART = "## Dots on pixels"
HEAD = (
    "| photos | card | n | channel RMS mm | median U mm (over 1.96 RMS) | inside, % "
    "| n | relief RMS mm | median U mm (over 1.96 RMS) | inside, % |\n"
    "| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
ENDS = ("entry", "exit")


def _rows(shots: Sequence[Shots]) -> list[str]:
    lines = [HEAD]
    for photos in reversed(list(SETS)):
        for card in ("fixed", "moved"):
            own = [s.lengths[photos] for s in shots if s.card == card and photos in s.lengths]
            if own:
                lines.append(f"| {photos} | {card} | {_lengths(own)} |")
    all_snapped = [s for s in shots if all(not s.taps[end][2] for end in ENDS if end in s.taps)]
    for card in ("fixed", "moved"):
        own = [s.lengths["five"] for s in all_snapped if s.card == card and "five" in s.lengths]
        if own:
            lines.append(f"| five, no end by hand | {card} | {_lengths(own)} |")
    return lines


def _lengths(own: Sequence[tuple]) -> str:  # type: ignore[type-arg]
    channel = [pair[0] for pair in own if pair[0] is not None]
    relief = [pair[1] for pair in own if pair[1] is not None]
    return f"{cells(channel)} | {cells(relief)}"


def _taps(shots: Sequence[Shots]) -> list[str]:
    lines = [
        "| dot | n | snapped at the first tap, % | at the second, % | by hand, % "
        "| RMS(error / u) of the snapped | over 3 u, % |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    kinds = list(dict.fromkeys(kind for s in shots for kind in s.taps))
    for kind in sorted(kinds):
        counts = np.sum([s.taps[kind] for s in shots if kind in s.taps], axis=0)
        over = np.array([z for s in shots for z in s.over_u.get(kind, ())])
        first, second, hand = 100.0 * counts / counts.sum()
        rms = f"{np.sqrt(np.mean(over**2)):.2f}" if len(over) else "-"
        far = f"{100.0 * np.mean(np.abs(over) > 3.0):.1f}" if len(over) else "-"
        lines.append(
            f"| {kind} | {counts.sum()} | {first:.0f} | {second:.0f} | {hand:.0f} | {rms} | {far} |"
        )
    return lines


def _drawn(shots: Sequence[Shots]) -> str:
    scored = [s for s in shots if s.card]
    ears = len({s.ear for s in scored})
    left_out = share([bool(s.said) for s in scored])
    return (
        f"{len(scored)} sets on {ears} ears; {sum(s.drawn for s in shots)} were drawn for them "
        f"({len(shots) - len(scored)} scenes were given up). "
        f"In {left_out:.1f} % something was left out or said."
    )


def shots_table(shots: Sequence[Shots], wanted: tuple[int, int]) -> str:
    """Return the part of the report: windows about the dots, then whole photos."""
    windows, whole = ([s for s in shots if s.whole == each] for each in (False, True))
    lines = [
        PART,
        "",
        f"`python -m benchmarks.accuracy --views --pixels {wanted[0]} --whole {wanted[1]}`; "
        f"{machine()}, commit {', '.join(sorted({s.commit for s in shots}))}.",
        "",
        f"Five photos: {asked_words()}; pen dots of "
        f"{DIAMETER_MM[0]}-{DIAMETER_MM[1]} mm. A dot counts as seen where 45 % of it is, at least "
        "2 px wide at 12 MP: less a piercer doesn't find. Sets count in which both ends are so "
        f"seen twice. Taps have sd {TAP_MM} mm on each axis; where none or a dot over "
        f"{PLAINLY_MM:g} mm "
        "off is taken, a second has 0.2 mm; after that the dot is marked by hand, sd 0.2 mm and "
        "told so. Marks have u as a marks file tells it: one for a placement's dots in a photo. "
        f"Moved: by sd {MOVED_MM} mm between upper and lower photos, three ties.",
        "",
    ]
    if windows:
        lines += [f"### Windows of {WINDOW_PX} px about the dots", "", _drawn(windows), ""]
        lines += [*_rows(windows), "", *_taps(windows), ""]
    if whole:
        size = f"{round(4000 * SHRUNK)} x {round(3000 * SHRUNK)} px"
        lines += [f"### Whole photos, {size}, cards found in them", "", _drawn(whole), ""]
        lines += [*_rows(whole), "", *_taps(whole), ""]
        lines += [f"- {s.ear}, scene {s.index}: {s.said}" for s in whole if s.said]
        lines += [""]
    return "\n".join(lines).rstrip() + "\n"


def with_part(report: str, part: str) -> str:
    """Return a report with that part in place of the one of the same heading, or at its end."""
    heading = part.splitlines()[0]
    before, found, rest = report.partition(f"\n{heading}\n")
    if not found:
        return f"{report.rstrip()}\n\n{part}"
    _, more, after = rest.partition("\n## ")
    return f"{before.rstrip()}\n\n{part}" + (f"\n## {after}" if more else "")


def with_note(report: str, file: Path) -> str:
    """Return a report that says of which commit the parts are that name none: the file's last."""
    head, found, rest = report.partition(".\n")
    if ", commit " in head or not found:
        return report
    ask = ["git", "log", "-1", "--format=%h", "--", str(file.resolve())]
    done = subprocess.run(  # noqa: S603  (fixed words)
        ask, capture_output=True, text=True, check=False, cwd=Path(__file__).parent
    )
    return f"{head}, commit {done.stdout.strip() or 'unknown'}.\n{rest}"


def part_of(report: str, heading: str) -> str:
    """Return the part of a report under a heading, or nothing."""
    _, found, rest = report.partition(f"\n{heading}\n")
    return f"{heading}\n{rest.partition(chr(10) + '## ')[0].rstrip()}\n" if found else ""
