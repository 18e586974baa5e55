"""What repeating and snapping bring the channel: ``python -m benchmarks.accuracy --repeats``.

The same scenes as the accuracy table, ends marked, each once for every way of marking, so the
ways differ by nothing but the marks.  A hand's mark lies off by what the hand does from pass to
pass and by the definition's part, which is one and the same in all passes of a point.  The
draft then goes the program's own way (``assess.passes``): means, ``sigma_px``, interval.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from assess.marks import PhotoMarks
from assess.passes import PASSES, measured_entry
from assess.placing import axes_in
from assess.repeatability import MarkUncertainty, Scatter, mark_uncertainty
from benchmarks.accuracy import SEED, Score, marks_of, middle_of, reading_of
from benchmarks.band_model import edge_places, model_for
from benchmarks.ears import EARS, Site, random_site
from benchmarks.scenes import Scene, draw_scene, seeds
from benchmarks.tables import K95, coverage, machine, median_U, rms
from calibration.draws import Draws
from calibration.frames import Array
from calibration.quantity import Quantity

DRAWS = 5_000
PAST_DOF = 24
"""Degrees of freedom from which the program has learned the hand, in every scene anew."""
DEFINITION_MM = 0.1
HAND_MM = 0.2
INNER_HAND_MM = float(np.sqrt(HAND_MM**2 - DEFINITION_MM**2))
"""The scatter that makes, with the definition's part, 0.20 mm in all for a single mark."""
SNAP_PX = 0.3
RESAMPLES = 400
WHO = "invented"
ENDS = ("entry", "exit")


@dataclass(frozen=True, slots=True)
class Way:
    """A way of marking: how often a hand marks each end, and which are snapped instead."""

    name: str
    passes: int = 1
    hand_mm: float = HAND_MM
    definition_mm: float = DEFINITION_MM
    snapped: tuple[str, ...] = ()
    learned: bool = True
    """Whether the program knows the hand; else 0.2 mm are assumed."""


BASELINE = Way("a single hand mark, σ 0.20 mm in all", definition_mm=0.0, learned=False)

WAYS = (
    BASELINE,
    Way("3 hand marks, scatter 0.20 mm, definition 0.1 mm", 3),
    Way("5 hand marks, scatter 0.20 mm, definition 0.1 mm", 5),
    Way("3 hand marks, 0.20 mm in all (scatter 0.17 mm)", 3, INNER_HAND_MM),
    Way("5 hand marks, 0.20 mm in all (scatter 0.17 mm)", 5, INNER_HAND_MM),
    Way("both ends snapped, u 0.3 px", snapped=ENDS),
    Way("entry snapped, exit marked once, σ 0.20 mm", definition_mm=0.0, snapped=("entry",),
        learned=False),
    Way("entry snapped, exit 3 times, scatter 0.20 mm", 3, snapped=("entry",)),
    Way("entry snapped, exit 5 times, scatter 0.20 mm", 5, snapped=("entry",)),
    Way("entry snapped, exit 5 times, 0.20 mm in all", 5, INNER_HAND_MM, snapped=("entry",)),
)  # fmt: skip

EDGE_WAYS = tuple(way for way in WAYS if not way.snapped)
"""On a visible edge there is no dot to snap to."""


@dataclass(frozen=True, slots=True)
class Marked:
    """A scene's ends, where they are marked in truth, and what the program makes of the card."""

    site: Site
    scene: Scene
    places_card: Array  # (2, 3) mm
    kind: str
    corners: tuple[Array, tuple[int, ...]]

    @property
    def truth_mm(self) -> float:
        """Return the channel's true length."""
        top, bottom = (np.asarray(getattr(self.site.placement, end)) for end in ENDS)
        return float(np.linalg.norm(top - bottom))


def places_of(site: Site, scene: Scene, kind: str) -> Array | None:
    """Return where the ends are marked, card frame, (2, 3) mm; None where no edge is seen."""
    ends = np.array([site.placement.entry, site.placement.exit], dtype=np.float64)
    if kind == "edges":
        edges = edge_places(site, scene.centre_ear)
        return None if edges is None else scene.to_card(edges)
    return scene.to_card(ends)


def marks_px(marked: Marked, way: Way, rng: np.random.Generator) -> Array:
    """Return every pass's marks of entry and exit, (passes, 2, 2) px."""
    aside = way.definition_mm * rng.standard_normal((2, 2))
    off = aside + way.hand_mm * rng.standard_normal((way.passes, 2, 2))
    off = np.concatenate([off, np.zeros((way.passes, 2, 1))], axis=-1)
    hand = np.stack([marked.scene.pixels(marked.places_card + each) for each in off])
    exact = marked.scene.pixels(marked.places_card)
    found = exact + SNAP_PX * rng.standard_normal((2, 2))
    snapped = np.array([end in way.snapped for end in ENDS])
    return np.where(snapped[None, :, None], found, hand)


def entry_of(marks: Array, way: Way, kind: str) -> dict[str, Any]:
    """Return the photo's part of a draft that was marked that way."""

    def placement(places: Array) -> dict[str, Any]:
        made: dict[str, Any] = {"label": "A"} | dict(zip(ENDS, places.tolist(), strict=True))
        if kind == "edges":
            made["outline"] = list(ENDS)
        if way.snapped:
            made |= {"snapped": list(way.snapped), "u_px": SNAP_PX}
        return made

    passes = [{"by": WHO, "placements": [placement(each)]} for each in marks]
    return {"file": "scene", "placements": [placement(marks[0])], PASSES: passes}


def hand_known(way: Way, rng: np.random.Generator) -> MarkUncertainty:
    """Return what a past of :data:`PAST_DOF` degrees of freedom tells of the hand."""
    if not way.learned:
        return mark_uncertainty(None)
    s_mm = way.hand_mm * float(np.sqrt(rng.chisquare(PAST_DOF) / PAST_DOF))
    return mark_uncertainty(Scatter(s_mm, PAST_DOF, PAST_DOF // 4, PAST_DOF // 4))


def score(marked: Marked, way: Way, rng: np.random.Generator, seed: int) -> Score:
    """Return how the program does on one scene that was marked one way."""
    scene, marks = marked.scene, marks_px(marked, way, rng)
    corners_px, ids = marked.corners
    reading = reading_of(scene, marks.mean(axis=0), (corners_px, np.asarray(ids)))
    offset_mm = scene.told.offset_mm
    draft = entry_of(marks, way, marked.kind)
    entry = measured_entry(draft, reading, hand_known(way, rng), offset_mm=offset_mm)
    photo = PhotoMarks.model_validate(entry)
    told = marks_of(scene, marks[0], 0.0, marked.kind).model_copy(update={"photos": (photo,)})
    band = model_for(marked.site.name)
    axis = axes_in(photo, ["A"], told, reading, Draws(seed, DRAWS), band)["A"]
    return Score(
        marked.site.name,
        marked.kind,
        way.hand_mm / reading.mm_per_px(offset_mm),
        scene.told.u_tilt_deg > 0,
        scene.view_tilt_deg,
        scene.distance_mm,
        marked.truth_mm,
        Quantity.from_draws(axis.channel_mm, "mm"),
        float(np.linalg.norm(marks[0, 0] - marks[0, 1])) / scene.plain_scale(),
    )


Scores = dict[str, list[Score]]
"""Way of marking -> its scores, scene by scene in the same order for all of a kind."""


def run_repeats(scenes: int, seed: int = SEED) -> dict[str, Scores]:
    """Return the scores by kind, ``ends`` or ``edges``, and by way of marking."""
    names = list(EARS)
    found: dict[str, Scores] = {"ends": {}, "edges": {}}
    for i, rng in enumerate(seeds(seed, scenes)):
        name, tilt = names[i % len(names)], bool((i // len(names)) % 2)
        site = random_site(name, rng)
        scene = draw_scene(rng, middle_of(site), rim_tilt=tilt)
        corners = scene.corners_px(rng), scene.corner_ids
        for kind, ways in (("ends", WAYS), ("edges", EDGE_WAYS)):
            places = places_of(site, scene, kind)
            if places is None:
                continue
            marked = Marked(site, scene, places, kind, corners)
            for way in ways:
                got = score(marked, way, rng, i + 1)
                found[kind].setdefault(way.name, []).append(got)
    return found


def under(scores: Sequence[Score], baseline: Sequence[Score]) -> tuple[float, float]:
    """Return by how much the RMS error lies under the baseline's, and its standard error, %.

    The standard error is that of 400 resamples of the scenes, the same ones for both.
    """
    squares = np.array([[s.error_mm**2 for s in each] for each in (scores, baseline)])
    rng = np.random.default_rng(SEED)
    drawn = rng.integers(0, squares.shape[1], (RESAMPLES, squares.shape[1]))

    def percent(picked: Array) -> Array:
        ours, theirs = np.sqrt(picked.mean(axis=-1))
        return np.asarray(100 * (1 - ours / theirs))

    return float(percent(squares)), float(percent(squares[:, drawn]).std(ddof=1))


HEAD = (
    "| marks | n | RMS error mm | mean error mm | under a single hand mark, % | "
    "median U mm (over 1.96 RMS) | inside 95 % interval, % |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | ---: |"
)


def row(name: str, scores: Sequence[Score], baseline: Sequence[Score]) -> str:
    """Return one line of a table."""
    ours, wide = rms(scores), median_U(scores)
    mean = float(np.mean([s.error_mm for s in scores]))
    less, u_less = under(scores, baseline)
    gain = "-" if scores is baseline else f"{less:.0f} ± {u_less:.1f}"
    return (
        f"| {name} | {len(scores)} | {ours:.3f} | {mean:+.3f} | {gain} | "
        f"{wide:.3f} ({wide / (K95 * ours):.2f}) | {100 * coverage(scores):.1f} |"
    )


def rows(found: Scores) -> list[str]:
    """Return a table's lines, a line for each way of marking."""
    baseline = found[BASELINE.name]
    return [HEAD, *(row(name, scores, baseline) for name, scores in found.items())]


def split(found: Scores, tilted: bool) -> Scores:
    """Return the scores of the scenes whose rim is tilted against the card, or isn't."""
    return {name: [s for s in all_ if s.rim_tilt == tilted] for name, all_ in found.items()}


def repeats_table(found: Mapping[str, Scores], scenes: int) -> str:
    """Return the whole report."""
    ends, edges = found["ends"], found["edges"]
    lines = [
        "# What repeating and snapping bring the channel, one view",
        "",
        f"{scenes} scenes by geometry over {len(EARS)} parameter ears, drawn as for accuracy.md "
        f"(`python -m benchmarks.accuracy --repeats`; {machine()}); every scene is marked in every "
        "way. A hand scatters from pass to pass; where a definition is named, 0.1 mm more lie on "
        "each end and axis, the same in all passes and never averaged. The program has learned the "
        f"hand from a past of {PAST_DOF} degrees of freedom, drawn anew in every scene; of marks "
        "made once it knows nothing and assumes 0.2 mm. A snapped end lies off by 0.3 px on each "
        "axis, and the dot is what was meant: no definition's part. ± is one standard error over "
        "the scenes.",
        "",
        "## The ends' own places marked",
        "",
        *rows(ends),
        "",
        "### Rim parallel to the card",
        "",
        *rows(split(ends, tilted=False)),
        "",
        "### Rim tilted, sd 5.8°",
        "",
        *rows(split(ends, tilted=True)),
        "",
        "## The visible edges marked",
        "",
        "There is no dot to snap to on a visible edge. The band's model error, derived from "
        "other ears than the scored ones, rules here and no way of marking makes it less.",
        "",
        *rows(edges),
        "",
    ]
    return "\n".join(lines)
