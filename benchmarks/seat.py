"""The seat from contours and several views, on parameter ears: ``python -m benchmarks.seat``.

Contours are cast against the mesh, the skin's true normal is the mesh's at the dot.  Writes
``benchmarks/seat.md``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assess.outlines import Outline
from assess.seat import Seat
from assess.seat_views import seat_in_views
from assess.space import in_space
from benchmarks.ears import Site, drawn_ears, random_site_on
from benchmarks.scenes import seeds
from benchmarks.tables import commit, machine
from benchmarks.view_scenes import (
    ASKED,
    SETS,
    ViewScene,
    both_ends,
    cards_of,
    draw_view_scene,
    marked,
)
from benchmarks.view_tables import asked_words
from calibration.draws import Draws
from calibration.frames import TOWARD_VIEWER, Array
from calibration.quantity import Quantity
from calibration.views import ViewsSolved, dots_in_space
from sample_images.body import vertex_normals
from sample_images.ears import Ear
from sample_images.visible import contours

SEED = 20261127
VERTICES = 24
NEAR_MM = 0.5
DRAWS = 4_000
PARTS = ("entry along", "entry across", "entry", "exit along")


@dataclass(frozen=True, slots=True)
class SeatScore:
    """One part of the seat: its error, half its interval (deg), whether that holds the truth.

    Of the whole angle there is a bound alone, which stands for the half.
    """

    part: str
    truth_deg: float
    error_deg: float
    half_deg: float
    inside: bool


def skin_normal(ear: Ear, at: Array) -> Array:
    """Return the mesh's normal near a place, pointing out, (3,)."""
    gap = np.linalg.norm(ear.vertices - at, axis=1)
    near = np.exp(-((gap / NEAR_MM) ** 2))
    mean = near @ vertex_normals(ear.vertices, ear.faces)
    return np.asarray(mean / np.linalg.norm(mean))


def true_seat(scene: ViewScene) -> dict[str, float]:
    """Return the parts by the card's frame, deg."""
    turn, placement = scene.standing.rotation, scene.site.placement
    gap = placement.entry - placement.exit
    axis = turn @ (gap / placement.channel_mm)
    out: dict[str, float] = {}
    for end, at, sign in (("entry", placement.entry, 1.0), ("exit", placement.exit, -1.0)):
        normal, way = turn @ skin_normal(scene.site.ear, at), sign * axis
        aside = normal[0] * way[1] - normal[1] * way[0]
        out[f"{end} along"] = -float(np.rad2deg(np.arctan2(aside, normal[:2] @ way[:2])))
        rises = [np.arctan2(TOWARD_VIEWER @ one, np.hypot(one[0], one[1])) for one in (way, normal)]
        out[f"{end} across"] = float(np.rad2deg(rises[0] - rises[1]))
        out[end] = float(np.rad2deg(np.arccos(np.clip(way @ normal, -1.0, 1.0))))
    return out


def outlines_of(
    scene: ViewScene, found: ViewsSolved, u_px: float, rng: np.random.Generator
) -> tuple[list[Outline], list[Array]]:
    """Return every photo's outer contour as marked, and the square-on photo's inner one."""
    outer, inner = [], []
    for i, photo in enumerate(found.found.problem.photos):
        view = scene.views[photo.name]
        centre = scene.standing.to_ear(view.centre_card[None])[0]
        lines = contours(scene.site.ear, centre, VERTICES)
        seen = [view.pixels(scene.standing.to_card(line)) for line in lines if len(line)]
        if len(seen) == 2:
            seen = [line + u_px * rng.standard_normal(line.shape) for line in seen]
            outer.append(Outline(photo.name, found.found.camera(i), seen[0], u_px))
            inner.append(seen[1])
    return outer, inner


def run_seat(ears: Iterable[Ear], scenes: int, u_px: float, seed: int = SEED) -> list[SeatScore]:
    """Return the scores of scenes on those ears in turn."""
    pool, scores = list(ears), list[SeatScore]()
    for i, rng in enumerate(seeds(seed, scenes)):
        site: Site = random_site_on(pool[i % len(pool)], rng)
        scene = draw_view_scene(site.name, rng, aims=ASKED, site=site)
        if not both_ends(scene, SETS["five"]):
            continue
        photos = marked(scene, cards_of(scene, SETS["five"], rng), u_px, rng, dots="placement")
        found = dots_in_space(photos, 0.0)
        if not isinstance(found, ViewsSolved):
            continue
        outer, inner = outlines_of(scene, found, u_px, rng)
        space = in_space(found, Draws(i + 1, DRAWS))
        if not space.has("A/entry", "A/exit") or outer[0].photo != "square-on":
            continue
        seat = seat_in_views("A", space, outer, inner[0], "left", Draws(i + 1, DRAWS))
        scores += scored(seat, true_seat(scene))
    return scores


def scored(seat: Seat, truth: dict[str, float]) -> list[SeatScore]:
    """Return the score of every part that was measured."""
    parts = {
        "entry along": seat.entry.along_deg,
        "entry across": seat.entry.across_deg,
        "exit along": seat.exit.along_deg,
    }
    out = []
    for part, draws in parts.items():
        if draws is not None:
            stated = Quantity.from_draws(draws, "deg")
            true = truth[part]
            inside = stated.low <= true <= stated.high
            half = (stated.high - stated.low) / 2
            out.append(SeatScore(part, true, stated.value - true, half, inside))
    bound, whole = seat.entry.within_deg, truth["entry"]
    if bound is not None:
        out.append(SeatScore("entry", whole, 0.0, bound, whole <= bound))
    return out


def _of(part: str, scores: list[SeatScore]) -> list[SeatScore]:
    return [score for score in scores if score.part == part]


def _row(part: str, u_px: float, own: list[SeatScore]) -> str:
    """Return a part's row; of the whole angle there is a bound and no error."""
    whole = part == "entry"
    true, error = ([getattr(s, name) for s in own] for name in ("truth_deg", "error_deg"))
    rms = [f"{np.sqrt(np.mean(np.square(values))):.1f}" for values in (true, error)]
    return (
        f"| {u_px:g} px | {'entry, whole: bound' if whole else part} | {len(own)} | {rms[0]} "
        f"| {'-' if whole else rms[1]} | {np.median([s.half_deg for s in own]):.1f} "
        f"| {100 * np.mean([s.inside for s in own]):.1f} |"
    )


def seat_table(scenes: int = 120) -> str:
    """Return the report: new ears, none of those that the model's figures come from."""
    lines = [
        "# The seat from contours and several views",
        "",
        f"`python -m benchmarks.seat`; {machine()}, commit {commit()}.",
        "",
        f"{scenes} sets of five photos as the guide asks ({asked_words()}) on 20 new ears, none of "
        "those that the model's figures come from; sets count in which both ends are seen twice. "
        "Posts are square to the rim's run, so the truth along it is small. "
        f"Contours with {VERTICES} vertices in every photo, 12 MP; the skin's true normal is the "
        f"mesh's within {NEAR_MM:g} mm of the dot.",
        "",
        "| marks | part | n | RMS of the truth, deg | RMS, deg | median U, deg | inside, % |",
        "| --- | --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    ears = list(drawn_ears(SEED, 20))
    for u_px in (1.0, 2.0):
        scores = run_seat(ears, scenes, u_px)
        lines += [_row(part, u_px, own) for part in PARTS if (own := _of(part, scores))]
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    Path(__file__).with_name("seat.md").write_text(seat_table(), encoding="utf-8")
