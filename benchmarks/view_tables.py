"""The tables of several views in words and numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assess.view_set import VIEWS
from benchmarks.tables import K95, commit, machine
from benchmarks.view_faults import (
    FAULTS,
    U_SHIFT_MM,
    FaultScore,
    MoveScore,
    move_kind,
    run_faults,
    run_moves,
    share,
    strays,
)
from benchmarks.views import (
    MOVED_MM,
    SEED,
    SNAPPED_PX,
    Length,
    Run,
    Setting,
    ViewScore,
    run_asked,
    run_views,
)

HEAD = (
    "| marks | dots | card | lens | n | channel RMS mm | median U mm (over 1.96 RMS) | "
    "inside, % | n | relief RMS mm | median U mm (over 1.96 RMS) | inside, % |\n"
    "| --- | --- | --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)
DOT_WORDS = {"ends": "ends alone", "placement": "placement", "ties": "and three ties"}
WAYS = {False: "straight up and down", True: "fanned 15-25°"}


def rms_mm(lengths: Sequence[Length]) -> float:
    """Return the root mean square of the errors, mm."""
    return float(np.sqrt(np.mean([length.error_mm**2 for length in lengths])))


def cells(lengths: Sequence[Length]) -> str:
    """Return count, RMS, median U and coverage as four cells."""
    if not lengths:
        return "0 | - | - | -"
    rms, half = rms_mm(lengths), float(np.median([length.half_mm for length in lengths]))
    inside = share([length.inside for length in lengths])
    return f"{len(lengths)} | {rms:.3f} | {half:.3f} ({half / (K95 * rms):.2f}) | {inside:.1f}"


def marks_words(u_px: float) -> str:
    """Return how the dots were marked."""
    return f"snapped, {u_px:g} px" if u_px == SNAPPED_PX else f"by hand, {u_px:g} px"


def _rows(scores: Sequence[ViewScore]) -> list[str]:
    settings = sorted(
        {s.setting for s in scores}, key=lambda s: (s.card, s.dots, s.known_lens, s.u_px)
    )
    lines = [HEAD]
    for setting in settings:
        own = [s for s in scores if s.setting == setting]
        channel = [s.channel for s in own if s.channel is not None]
        relief = [s.relief for s in own if s.relief is not None]
        lens = "known" if setting.known_lens else "EXIF"
        lines.append(
            f"| {marks_words(setting.u_px)} | {DOT_WORDS[setting.dots]} | {setting.card} | {lens} "
            f"| {cells(channel)} | {cells(relief)} |"
        )
    return lines


def _ear_rows(scores: Sequence[ViewScore]) -> list[str]:
    lines = ["| ear | n | channel RMS mm | median U mm (over 1.96 RMS) | inside, % |"]
    lines.append("| --- | ---: | ---: | ---: | ---: |")
    for ear in sorted({s.ear for s in scores}):
        lengths = [s.channel for s in scores if s.ear == ear and s.channel is not None]
        lines.append(f"| {ear} | {cells(lengths)} |")
    return lines


def _lens_cost(scores: Sequence[ViewScore]) -> list[str]:
    """Return what not knowing f costs, each pair on the same corners and marks."""
    lines = []
    for fanned, words in WAYS.items():
        for u_px in (SNAPPED_PX, 1.0):
            own = [
                [
                    s.channel
                    for s in scores
                    if s.channel is not None
                    and (s.setting.photos, s.setting.card) == ("five", "fixed")
                    and (s.setting.fanned, s.setting.u_px) == (fanned, u_px)
                    and s.setting.known_lens == known
                ]
                for known in (False, True)
            ]
            if all(own):
                cost = 100.0 * (rms_mm(own[0]) / rms_mm(own[1]) - 1.0)
                lines.append(f"- {words}, {marks_words(u_px)}: RMS {cost:+.1f} %")
    return lines


def _move_rows(scores: Sequence[MoveScore]) -> list[str]:
    lines = [
        "| moved, mm | dots | marks | told, mm | n | channel RMS mm | "
        "median U mm (over 1.96 RMS) | inside, % | said, % | inside or said, % |",
        "| ---: | --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for kind in sorted({move_kind(s) for s in scores}):
        move_mm, dots, told, u_px = kind
        own = [s for s in scores if move_kind(s) == kind]
        lengths = [s.channel for s in own if s.channel is not None]
        good = [s.caught or (s.channel is not None and s.channel.inside) for s in own]
        lines.append(
            f"| {move_mm:g} | {DOT_WORDS[dots]} | {marks_words(u_px)} | {told:g} | "
            f"{cells(lengths)} | {share([s.caught for s in own]):.1f} | {share(good):.1f} |"
        )
    return lines


def _fault_rows(scores: Sequence[FaultScore]) -> list[str]:
    lines = [
        "| what is the matter | ties | marks | n | said, % | photos rightly named, % |",
        "| --- | --- | --- | ---: | ---: | ---: |",
    ]
    for fault in FAULTS:
        for ties in (True, False):
            for u_px in sorted({s.u_px for s in scores}):
                own = [s for s in scores if (s.fault, s.ties, s.u_px) == (fault, ties, u_px)]
                if own:
                    lines.append(
                        f"| {fault} | {'three' if ties else 'none'} | {marks_words(u_px)} | "
                        f"{len(own)} | {share([s.said for s in own]):.0f} | "
                        f"{share([s.named for s in own]):.0f} |"
                    )
    return lines


def _intro(run: Run) -> list[str]:
    ears = len({s.ear for s in run.scores})
    return [
        "# Channel and relief from several views",
        "",
        f"`python -m benchmarks.accuracy --views`; {machine()}, commit {commit()}.",
        "",
        f"{run.scenes} scenes by geometry over {ears} parameter ears; what a camera sees of the "
        "dots is cast against the ear's mesh. 12 MP, f 2720-3400 px told by EXIF with sd 3 %, its "
        "centre off by sd 15 px, k1 ±0.05, 200-300 mm away, corners to 0.1 px and up to 30 % of "
        "them hidden, print ±1.2 % each way with bars read to 0.05 mm. Five photos: square-on, "
        "from above 15-25° and 30-40°, from below 27-37° and 42-52°; straight up and down (3° "
        "aside, sd), or fanned: of two photos from one side one is taken 15-25° from the front, "
        "the other as far from behind. Where the card moves, it does so between upper and lower "
        f"photos: sd {MOVED_MM} mm on each axis, and turned by sd 0.8°. Snapped dots have sd "
        f"{SNAPPED_PX} px on each axis. Dots: the two ends alone, the placement's five (crest, "
        "floor and the next structure tie the photos too), or these and three ties. "
        f"Only sets in which both ends are seen twice count for these scenes: {run.drawn} were "
        f"drawn for the {run.scenes}.",
        "",
    ]


def asked_part(run: Run) -> list[str]:
    """Return how sets do that were taken as the guide asks; a part that can be made by itself."""
    ears = len({s.ear for s in run.scores})
    by_ear = [s for s in run.scores if s.setting == Setting("five", True, 1.0, "fixed")]
    return [
        "## Five photos as the guide asks",
        "",
        f"`python -m benchmarks.accuracy --views --asked`; {machine()}, commit {commit()}.",
        "",
        f"{run.scenes} further scenes on {ears} ears ({run.drawn} sets drawn), seeds of their own; "
        f"all as above, but the photos {asked_words()}. A dot counts as seen if its centre is.",
        "",
        *_rows(run.scores),
        "",
        "By ear: card fixed, by hand, 1 px",
        "",
        *_ear_rows(by_ear),
        "",
    ]


def moves_part(scores: Sequence[MoveScore]) -> list[str]:
    """Return how cards do that move by a set amount; a part that can be made by itself."""
    scenes = len({s.scene for s in scores})
    return [
        "## A card that moves by a set amount",
        "",
        f"`python -m benchmarks.accuracy --views --moves`; {machine()}, commit {commit()}.",
        "",
        f"{scenes} scenes taken as the guide asks. Between the upper and the lower photos the card "
        "moves along x, y and z in turn, with the movement told as "
        f"{U_SHIFT_MM} mm, as the amount, or as none. {_chance_words(scores)}",
        "",
        *_move_rows(scores),
        "",
    ]


def faults_part(scores: Sequence[FaultScore]) -> list[str]:
    """Return what is said of photos with something the matter; a part that can be made alone."""
    return [
        "## Something the matter with a photo",
        "",
        f"`python -m benchmarks.accuracy --views --moves`; {machine()}, commit {commit()}.",
        "",
        "Sets taken as the guide asks.",
        "",
        *_fault_rows(scores),
        "",
    ]


def _chance_words(scores: Sequence[MoveScore]) -> str:
    tied = [s for s in scores if s.dots != "ends" and s.channel is not None]
    if not tied:
        return ""
    inside = share([s.channel.inside for s in tied if s.channel is not None])
    return (
        "A scene's pushes share its card: by its scenes a row of placements or ties is known to "
        f"±{K95 * strays(tied):.1f} % (1.96 standard deviations). Over all such rows "
        f"{inside:.1f} % are inside."
    )


def _by_photos(run: Run) -> list[str]:
    lines = []
    for photos in ("five", "four", "three", "two"):
        for fanned, words in WAYS.items():
            own = [
                s for s in run.scores if (s.setting.photos, s.setting.fanned) == (photos, fanned)
            ]
            if own:
                lines += [f"## {photos.capitalize()} photos, {words}", "", *_rows(own), ""]
    return lines


def views_table(
    run: Run, asked: Run, moves: Sequence[MoveScore], faults: Sequence[FaultScore]
) -> str:
    """Return the whole report."""
    by_ear = [s for s in run.scores if s.setting == Setting("five", True, 1.0, "fixed")]
    wrong = share([bool(s.refused) for s in run.scores])
    lines = [
        *_intro(run),
        *asked_part(asked),
        *_by_photos(run),
        "## What not knowing the focal length costs",
        "",
        *_lens_cost(run.scores),
        "",
        "## By ear: five photos, fanned 15-25°, card fixed, by hand, 1 px",
        "",
        *_ear_rows(by_ear),
        "",
        f"In {wrong:.1f} % of all sets, in which nothing is the matter, a point or photo was left "
        f"out by the tests, and in {share([bool(s.refused) for s in asked.scores]):.1f} % of those "
        "that the guide asks for.",
        "",
        *moves_part(moves),
        *faults_part(faults),
    ]
    return "\n".join(lines)


def asked_words() -> str:
    """Return from where the five photos are asked for."""
    each = [
        f"{view.name} ({_span(view.rise_deg)} up, {_span(view.behind_deg)} to behind the ear)"
        for view in VIEWS
    ]
    return ", ".join(each)


def _span(degrees: tuple[float, float]) -> str:
    return f"{degrees[0]:.0f} to {degrees[1]:.0f}°"


def run_all(scenes: int) -> str:
    """Return the report of a run of about ``scenes`` scenes."""
    pushed, few = max(scenes // 3, 1), max(scenes // 14, 1)  # each is spoiled in many ways
    run = run_views(scenes)
    asked = run_asked(scenes)
    return views_table(run, asked, run_moves(pushed, SEED + 11), run_faults(few, SEED + 12))
