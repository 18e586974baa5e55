"""Channel from one view on scenes with known truth: ``python -m benchmarks.accuracy``.

Writes ``benchmarks/accuracy.md``: error, stated U and coverage, twice (the ends' own places
marked, the visible edges marked), beside a plain pixels-per-millimetre scale taken from one
check bar of the card in the same scenes.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from assess.band_model import BAND_MODEL, BandModel
from assess.marks import CardMarks, Marks, PhotoMarks, PlacementMarks, RimPlane
from assess.placing import axes_in
from assess.reading import PhotoReading, sight
from assess.scale import print_scale
from benchmarks.band_model import edge_places, model_for
from benchmarks.ears import EARS, Site, random_site
from benchmarks.scenes import Scene, draw_scene, seeds
from benchmarks.tables import accuracy_table
from calibration.draws import Draws
from calibration.find import CardSeen, Ids
from calibration.frames import Array
from calibration.lens import Camera, LensPrior
from calibration.pose import PlaneFit, fit_plane
from calibration.quantity import Quantity

NOISE_PX = (0.0, 1.0, 2.0)
OUTLINED: Mapping[str, tuple[Literal["entry", "exit"], ...]] = {
    "ends": (),
    "edges": ("entry", "exit"),
    "entry's dot": ("exit",),
    "exit's dot": ("entry",),
}
"""Which ends are marked on the visible edge, by how a scene is marked."""
DRAWS = 5_000
SCENES = {"repeats": 1008, "views": 336, "recheck": 1080}
"""How many scenes a table takes that isn't the plain one."""
SEED = 20261125


@dataclass(frozen=True, slots=True)
class Score:
    """One scene's outcome (mm)."""

    ear: str
    kind: str  # "ends", "edges", or "seen": dots where they are seen, edges elsewhere
    noise_px: float
    rim_tilt: bool
    view_tilt_deg: float
    distance_mm: float
    truth_mm: float
    stated: Quantity
    plain_mm: float

    @property
    def error_mm(self) -> float:
        """Return stated minus true."""
        return self.stated.value - self.truth_mm

    @property
    def inside(self) -> bool:
        """Return whether the truth lies in the stated 95 % interval."""
        return self.stated.low <= self.truth_mm <= self.stated.high


def reading_of(scene: Scene, marks_px: Array, corners: tuple[Array, Ids]) -> PhotoReading:
    """Return what the program makes of the scene's card.

    Parameters
    ----------
    scene : Scene
    marks_px : (K, 2) array
    corners : the corners' pixels, (N, 2), and their ids, (N,)
    """
    told = scene.told
    corners_px, ids = corners
    scale = print_scale(scene.card, card_marks(scene))
    width, height = scene.size_px
    camera = Camera(told.focal_px, told.focal_px, (width - 1) / 2, (height - 1) / 2)
    prior = LensPrior(camera, 0.03, 0.05, "exif")
    fit = fit_plane(corners_px, scale.corrected(scene.card.corners_mm(ids)), prior)
    if not isinstance(fit, PlaneFit):
        raise RuntimeError(fit.sentence)
    target = (float(marks_px[:, 0].mean()), float(marks_px[:, 1].mean()))
    tilt, distance = sight(fit, target, told.offset_mm)
    seen = CardSeen(scene.card, ids, corners_px, False, 0)
    return PhotoReading(
        "scene", scene.size_px, seen, fit, scale, (), None, tilt, distance, None, target
    )


def card_marks(scene: Scene) -> CardMarks:
    """Return what the marks file says of the scene's card."""
    return CardMarks(id=scene.card.id, check_bar_mm=scene.told.check_bar_mm)


def marks_of(scene: Scene, marks_px: Array, noise_px: float, kind: str) -> Marks:
    """Return the marks file's content for an entry and an exit, (2, 2) px."""
    (ex, ey), (ox, oy) = marks_px.tolist()
    placement = PlacementMarks(
        label="A",
        entry=(ex, ey),
        exit=(ox, oy),
        outline=OUTLINED[kind],
    )
    plane = RimPlane(
        offset_mm=scene.told.offset_mm,
        u_offset_mm=scene.told.u_offset_mm,
        u_tilt_deg=scene.told.u_tilt_deg,
    )
    photo = PhotoMarks(file="scene", sigma_px=noise_px, placements=(placement,))
    return Marks(
        format="rimspan-marks/1",
        side="left",
        card=card_marks(scene),
        rim_plane=plane,
        photos=(photo,),
    )


def score(
    site: Site,
    scene: Scene,
    rng: np.random.Generator,
    setting: tuple[str, float, bool],
    seed: int,
) -> Score | None:
    """Return how the program does on one scene; None where an edge can't be seen."""
    kind, noise_px, rim_tilt = setting
    ends = np.array([site.placement.entry, site.placement.exit], dtype=np.float64)
    places = ends
    if kind == "edges":
        edges = edge_places(site, scene.centre_ear)
        if edges is None:
            return None
        places = edges
    exact = scene.pixels(scene.to_card(places))
    marked = exact + noise_px * rng.standard_normal(exact.shape)
    found = scene.corners_px(rng), np.asarray(scene.corner_ids)
    marks = marks_of(scene, marked, noise_px, kind)
    reading = reading_of(scene, marked, found)
    plain = float(np.linalg.norm(marked[0] - marked[1])) / scene.plain_scale()
    return Score(
        site.name,
        kind,
        noise_px,
        rim_tilt,
        scene.view_tilt_deg,
        scene.distance_mm,
        float(np.linalg.norm(ends[0] - ends[1])),
        channel_of(marks, reading, seed, model_for(site.name)),
        plain,
    )


def channel_of(
    marks: Marks, reading: PhotoReading, seed: int, band: BandModel = BAND_MODEL
) -> Quantity:
    """Return the channel that the program states, with this model of the visible band."""
    axes = axes_in(marks.photos[0], ["A"], marks, reading, Draws(seed, DRAWS), band)
    return Quantity.from_draws(axes["A"].channel_mm, "mm")


def middle_of(site: Site) -> Array:
    """Return the channel's middle, ear frame, (3,) mm."""
    ends = np.asarray(site.placement.entry), np.asarray(site.placement.exit)
    return 0.5 * (ends[0] + ends[1])


def run(scenes: int, seed: int = SEED) -> list[Score]:
    """Return the scores of ``scenes`` scenes for every setting they take in turn."""
    names = list(EARS)
    settings = [(noise, tilt) for noise in NOISE_PX for tilt in (False, True)]
    scores = []
    for i, rng in enumerate(seeds(seed, scenes)):
        name = names[i % len(names)]
        noise, tilt = settings[(i // len(names)) % len(settings)]
        site = random_site(name, rng)
        scene = draw_scene(rng, middle_of(site), rim_tilt=tilt)
        for kind in ("ends", "edges"):
            got = score(site, scene, rng, (kind, noise, tilt), i + 1)
            if got is not None:
                scores.append(got)
    return scores


def main() -> None:
    """Run the scenes, print the table and write it down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--scenes", type=int, help="2400; --repeats 1008; --views 336; --recheck 1080"
    )
    parser.add_argument("--repeats", action="store_true", help="ways of marking, in repeats.md")
    parser.add_argument("--marking", action="store_true", help="help with it, in marking.md")
    parser.add_argument("--views", action="store_true", help="several views, in views.md")
    parser.add_argument("--asked", action="store_true", help="of --views: as the guide asks, alone")
    parser.add_argument("--moves", action="store_true", help="of --views: moved cards, faults")
    parser.add_argument("--pixels", type=int, default=0, help="of --views: sets on pixels; 300")
    parser.add_argument("--whole", type=int, default=0, help="of --views: sets of whole photos; 20")
    parser.add_argument("--kept", type=Path, help="what parts of --pixels and --whole came to")
    parser.add_argument("--minutes", type=float, default=1e4, help="after which they stop")
    parser.add_argument("--recheck", action="store_true", help="a second visit, in recheck.md")
    parser.add_argument("--coverage", action="store_true", help="of U, in coverage.md")
    parser.add_argument("--few", type=int, help="a so-many-th part of --coverage, to try it")
    parser.add_argument("--rims", type=int, default=126, help="of --marking")
    parser.add_argument("--dots", type=int, default=40, help="of each kind, of --marking")
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    tables = {
        "repeats": _repeats,
        "marking": _marking,
        "views": _views,
        "coverage": _coverage,
        "recheck": _recheck,
    }
    chosen = [name for name in tables if getattr(options, name)]
    name = chosen[0] if chosen else "accuracy"
    options.scenes = options.scenes or SCENES.get(name, 2400)
    table = tables.get(name, _accuracy)(options)
    print(table)
    (options.out or Path(__file__).with_name(f"{name}.md")).write_text(table, encoding="utf-8")


def _repeats(options: argparse.Namespace) -> str:
    from benchmarks.repeats import repeats_table, run_repeats  # noqa: PLC0415  (imports this)

    return repeats_table(run_repeats(options.scenes), options.scenes)


def _marking(options: argparse.Namespace) -> str:
    from benchmarks.marking import run_marking  # noqa: PLC0415  (needs the renderer)

    return run_marking(options.rims, options.dots)


def _views(options: argparse.Namespace) -> str:
    from benchmarks.view_faults import run_faults, run_moves  # noqa: PLC0415
    from benchmarks.view_shot_tables import (  # noqa: PLC0415
        PART,
        part_of,
        shots_table,
        with_note,
        with_part,
    )
    from benchmarks.view_shots import run_in_parts  # noqa: PLC0415  (needs the renderer)
    from benchmarks.view_tables import (  # noqa: PLC0415
        asked_part,
        faults_part,
        moves_part,
        run_all,
    )
    from benchmarks.views import SEED, run_asked  # noqa: PLC0415  (only if asked for)

    file = options.out or Path(__file__).with_name("views.md")
    before = with_note(file.read_text("utf-8"), file) if file.exists() else ""
    if options.pixels or options.whole:  # the rest of the report stays as it is
        shots = run_in_parts(options.pixels, options.whole, options.kept, options.minutes)
        return with_part(before, shots_table(shots, (options.pixels, options.whole)))
    if options.asked:
        return with_part(before, "\n".join(asked_part(run_asked(options.scenes))))
    if options.moves:
        moves = run_moves(max(options.scenes // 3, 1), SEED + 11)
        before = with_part(before, "\n".join(moves_part(moves)))
        faults = run_faults(options.scenes // 28, SEED + 12)
        return with_part(before, "\n".join(faults_part(faults)))
    part = part_of(before, PART)
    return with_part(run_all(options.scenes), part) if part else run_all(options.scenes)


def _coverage(options: argparse.Namespace) -> str:
    from benchmarks.coverage import Sizes, coverage_table, run_coverage  # noqa: PLC0415  (needs the renderer)

    few = options.few or 1
    whole = Sizes()
    parts = (whole.stated, whole.pictured, whole.worse, whole.compared)
    sizes = Sizes(*(max(size // few, 2) for size in parts))
    return coverage_table(run_coverage(sizes))


def _recheck(options: argparse.Namespace) -> str:
    from benchmarks.recheck_tables import recheck_report  # noqa: PLC0415  (imports this)

    return recheck_report(options.scenes)


def _accuracy(options: argparse.Namespace) -> str:
    return accuracy_table(run(options.scenes), options.scenes)


if __name__ == "__main__":
    main()
