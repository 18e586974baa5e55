"""The part of ``benchmarks/recheck.md`` on several photos of each visit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assess.recheck_change import ENDS, Change, Shift
from benchmarks import recheck_views
from benchmarks.recheck_cells import FOUND_SHIFT_MM, FOUND_TILT_DEG, percent, rms
from benchmarks.recheck_views import SpaceScore
from calibration.frames import Array

EARLIER = (
    "Earlier runs: of 60 unchanged pairs of each row's kind (seeds 20261301 and 20261302) the "
    "entry's shift lay inside in 89.1 % and 85.0 % by hand; of 270 (seeds 20261311 and 20261312) "
    "in 94.0 % and 94.7 %, and snapped in 91.3 % and 94.0 %. There the ends' shifts of moved, "
    "snapped posts lay inside in 91.9 %, sliding being taken along the baseline's axis; since "
    "then it is taken along the axis at each visit, and nothing else has changed."
)
SPACE_HEAD = (
    "| pairs | n | not in space | tilt RMS ° | median U ° | inside, % | entry RMS mm | "
    "median U mm | inside, % | exit RMS mm | median U mm | inside, % |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
)


def space_row(name: str, scores: Sequence[SpaceScore]) -> str:
    """Return one line of pairs in space: errors are lengths of vectors, U that of the ellipsoid."""
    able = [s for s in scores if isinstance(s.change, Change)]
    if not able:
        return f"| {name} | 0 | {len(scores)} |" + " - |" * 9
    tilts = [s.said[1] for s in able]
    off = [t.way.vector - s.tilt_true for t, s in zip(tilts, able, strict=True)]
    cells = [
        f"{rms([float(np.linalg.norm(each)) for each in off]):.2f}",
        f"{float(np.median([t.expanded for t in tilts])):.2f}",
        _share([t.way.holds(s.tilt_true) for t, s in zip(tilts, able, strict=True)]),
    ]
    for k, end in enumerate(ENDS):
        ends = [s.said[0].ends[end] for s in able]
        true = [s.shifts_true[k] for s in able]
        far = [float(np.linalg.norm(e.vector - t)) for e, t in zip(ends, true, strict=True)]
        cells += [
            f"{rms(far):.2f}",
            f"{float(np.median([e.expanded for e in ends])):.2f}",
            _share([e.holds(t) for e, t in zip(ends, true, strict=True)]),
        ]
    return f"| {name} | {len(able)} | {len(scores) - len(able)} | " + " | ".join(cells) + " |"


def _share(flags: Sequence[bool]) -> str:
    return f"{100 * float(np.mean(flags)):.1f}"


def _space_said(setting: str, scores: Sequence[SpaceScore]) -> str:
    """Return one line: unchanged posts said to have moved, large changes found."""
    able = [s for s in scores if isinstance(s.change, Change)]
    still, moved = ([s for s in able if s.changed == changed] for changed in (False, True))
    tilts = [s.said[1].moved for s in moved if np.linalg.norm(s.tilt_true) > FOUND_TILT_DEG]
    shifts = [
        s.said[0].ends[end].moved
        for s in moved
        for k, end in enumerate(ENDS)
        if float(np.linalg.norm(s.shifts_true[k])) > FOUND_SHIFT_MM
    ]
    cells = [
        percent([s.said[1].moved for s in still]),
        *(percent([s.said[0].ends[end].moved for s in still]) for end in ENDS),
        percent(tilts),
        percent(shifts),
        _scaled([s.said[1].way for s in able], [s.tilt_true for s in able]),
        *(
            _scaled([s.said[0].ends[end] for s in able], [s.shifts_true[k] for s in able])
            for k, end in enumerate(ENDS)
        ),
    ]
    return f"| {setting} | " + " | ".join(cells) + " |"


def _scaled(said: Sequence[Shift], true: Sequence[Array]) -> str:
    """Return the mean squared error by its stated covariance, over its expectation of 1."""
    off = [(s.vector - t, s.covariance) for s, t in zip(said, true, strict=True)]
    return f"{np.mean([e @ np.linalg.solve(c, e) / len(e) for e, c in off]):.2f}"


def _why_not(scores: Sequence[SpaceScore]) -> str:
    whys = [s.change for s in scores if not isinstance(s.change, Change)]
    return ", ".join(f"{whys.count(why)} {why}" for why in sorted(set(whys))) or "none"


def space_lines(scores: Sequence[SpaceScore], pairs: int) -> list[str]:
    """Return the part of several views."""
    settings = list(dict.fromkeys(s.setting for s in scores))
    own = {name: [s for s in scores if s.setting == name] for name in settings}
    parts: list[tuple[str, Sequence[SpaceScore]]] = [*own.items(), ("**all**", scores)]
    rows = [
        space_row(f"{name}: {how}", [s for s in some if s.changed == (how == "moved")])
        for name, some in parts
        for how in ("unchanged", "moved")
    ]
    return [
        "# Several photos of each visit, in space",
        "",
        f"{len(scores)} pairs by geometry over {recheck_views.EARS_COUNT} drawn ears ({pairs} "
        f"unchanged and half as many moved of each row's kind; seeds {recheck_views.EARS_SEED} and "
        f"{recheck_views.SEED}). Five photos a visit as the guide asks for them, 12 MP; the card "
        "and its print anew at each visit, still during it; view changes of any size. The "
        "post leans whichever way by up to 15°, shifts whichever way by up to 4 mm, and slides by "
        "sd 0.3 mm. *snapped*: every mark to 0.5 px, *by hand*: to 2 px. *three places*: the three "
        "spare dots of three sample sets, nearly in one line (1.7 mm off it); *five*: two "
        "more beside it. "
        f"Not in space: {_why_not(scores)}.",
        "",
        SPACE_HEAD,
        *rows,
        "",
        "| | tilt said to have moved, % (of) | entry | exit | "
        f"tilt over {FOUND_TILT_DEG:g}° found | shift over {FOUND_SHIFT_MM:g} mm found | "
        "error² over u²: tilt | entry | exit |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
        *(_space_said(name, some) for name, some in parts),
        "",
        f"{EARLIER} By chance alone a share of {pairs} of which 95 % are expected errs by "
        f"{100 * float(np.sqrt(0.05 * 0.95 / pairs)):.1f} % (sd); error² over u², by the whole "
        "covariance, is 1 on average where u is right.",
        "",
    ]
