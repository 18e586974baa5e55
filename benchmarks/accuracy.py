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

import numpy as np

from assess.band_model import BandModel
from assess.marks import CardMarks, Marks, PhotoMarks, PlacementMarks, RimPlane
from assess.placing import axes_in
from assess.reading import PhotoReading, sight
from assess.scale import print_scale
from benchmarks.band_model import all_errors, edge_errors, fit_model
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
DRAWS = 5_000
SEED = 20261125


@dataclass(frozen=True, slots=True)
class Score:
    """One scene's outcome (mm)."""

    ear: str
    kind: str  # "ends" or "edges"
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
    scale = print_scale(scene.card, _card_marks(scene))
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


def _card_marks(scene: Scene) -> CardMarks:
    return CardMarks(id=scene.card.id, check_bar_mm=scene.told.check_bar_mm)


def marks_of(scene: Scene, marks_px: Array, noise_px: float, kind: str) -> Marks:
    """Return the marks file's content for an entry and an exit, (2, 2) px."""
    (ex, ey), (ox, oy) = marks_px.tolist()
    placement = PlacementMarks(
        label="A",
        entry=(ex, ey),
        exit=(ox, oy),
        outline=("entry", "exit") if kind == "edges" else (),
    )
    plane = RimPlane(
        offset_mm=scene.told.offset_mm, u_offset_mm=3.0, u_tilt_deg=scene.told.u_tilt_deg
    )
    photo = PhotoMarks(file="scene", sigma_px=noise_px, placements=(placement,))
    return Marks(
        format="rimspan-marks/1",
        side="left",
        card=_card_marks(scene),
        rim_plane=plane,
        photos=(photo,),
    )


def score(
    site: Site,
    scene: Scene,
    rng: np.random.Generator,
    setting: tuple[str, float, bool],
    model: BandModel,
    seed: int,
    corners: tuple[Array, Ids] | None = None,
) -> Score | None:
    """Return how the program does on one scene; None where an edge can't be seen.

    ``corners`` (pixels and ids) are those found in a picture; by default the scene's own with
    the finder's noise.
    """
    kind, noise_px, rim_tilt = setting
    ends = np.array([site.placement.entry, site.placement.exit], dtype=np.float64)
    places = ends
    if kind == "edges":
        errors = edge_errors(site, scene.centre_ear)
        if errors is None:
            return None
        axis = (ends[0] - ends[1]) / np.linalg.norm(ends[0] - ends[1])
        places = ends + errors[:, None] * np.array([axis, -axis])
    exact = scene.pixels(scene.to_card(places))
    marked = exact + noise_px * rng.standard_normal(exact.shape)
    found = corners or (scene.corners_px(rng), np.asarray(scene.corner_ids))
    reading = reading_of(scene, marked, found)
    marks = marks_of(scene, marked, noise_px, kind)
    axes = axes_in(marks.photos[0], ["A"], marks, reading, Draws(seed, DRAWS), model)
    plain = float(np.linalg.norm(marked[0] - marked[1])) / scene.plain_scale()
    return Score(
        site.name,
        kind,
        noise_px,
        rim_tilt,
        scene.view_tilt_deg,
        scene.distance_mm,
        float(np.linalg.norm(ends[0] - ends[1])),
        Quantity.from_draws(axes["A"].channel_mm, "mm"),
        plain,
    )


def middle_of(site: Site) -> Array:
    """Return the channel's middle, ear frame, (3,) mm."""
    ends = np.asarray(site.placement.entry), np.asarray(site.placement.exit)
    return 0.5 * (ends[0] + ends[1])


def models_without(names: list[str]) -> dict[str, BandModel]:
    """Return, for each ear, the band's model derived from all the others."""
    errors = all_errors()
    return {
        name: fit_model({other: e for other, e in errors.items() if other != name})
        for name in names
    }


def run(scenes: int, seed: int = SEED) -> list[Score]:
    """Return the scores of ``scenes`` scenes for every setting they take in turn."""
    names = list(EARS)
    models: Mapping[str, BandModel] = models_without(names)
    settings = [(noise, tilt) for noise in NOISE_PX for tilt in (False, True)]
    scores = []
    for i, rng in enumerate(seeds(seed, scenes)):
        name = names[i % len(names)]
        noise, tilt = settings[(i // len(names)) % len(settings)]
        site = random_site(name, rng)
        scene = draw_scene(rng, middle_of(site), rim_tilt=tilt)
        for kind in ("ends", "edges"):
            got = score(site, scene, rng, (kind, noise, tilt), models[name], i + 1)
            if got is not None:
                scores.append(got)
    return scores


def main() -> None:
    """Run the scenes, print the table and write it down."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scenes", type=int, help="2400; --repeats 1008; --views 336")
    parser.add_argument("--rendered", type=int, default=36)
    parser.add_argument("--repeats", action="store_true", help="ways of marking, in repeats.md")
    parser.add_argument("--marking", action="store_true", help="help with it, in marking.md")
    parser.add_argument("--views", action="store_true", help="several views, in views.md")
    parser.add_argument("--rims", type=int, default=126, help="of --marking")
    parser.add_argument("--dots", type=int, default=40, help="of each kind, of --marking")
    parser.add_argument("--out", type=Path)
    options = parser.parse_args()
    made = {"repeats": (_repeats, 1008), "marking": (_marking, 0), "views": (_views, 336)}
    name = next((n for n in made if getattr(options, n)), "accuracy")
    make, scenes = made.get(name, (_accuracy, 2400))
    options.scenes = options.scenes or scenes
    table = make(options)
    print(table)
    (options.out or Path(__file__).with_name(f"{name}.md")).write_text(table, encoding="utf-8")


def _repeats(options: argparse.Namespace) -> str:
    from benchmarks.repeats import repeats_table, run_repeats  # noqa: PLC0415  (imports this)

    return repeats_table(run_repeats(options.scenes), options.scenes)


def _marking(options: argparse.Namespace) -> str:
    from benchmarks.marking import run_marking  # noqa: PLC0415  (needs the renderer)

    return run_marking(options.rims, options.dots)


def _views(options: argparse.Namespace) -> str:
    from benchmarks.view_tables import run_all  # noqa: PLC0415  (only where it is asked for)

    return run_all(options.scenes)


def _accuracy(options: argparse.Namespace) -> str:
    scores = run(options.scenes)
    from benchmarks.rendered import run_rendered  # noqa: PLC0415  (needs the renderer)

    rendered = run_rendered(options.rendered) if options.rendered else []
    return accuracy_table(scores, rendered, options.scenes)


if __name__ == "__main__":
    main()
