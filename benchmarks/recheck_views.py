"""Pairs of visits by several photos each, by geometry: ``python -m benchmarks.accuracy --recheck``.

One ear; at each visit the card put on anew with a print of its own, five photos as the guide asks
for them.  The post leans and shifts whichever way, outward too.  What a camera sees of ends and
lasting places is cast against the ear's mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from assess.recheck_change import Change, Leaned
from assess.recheck_marks import WornPost
from assess.recheck_space import axes_of, compare_in_space
from assess.recheck_space_points import VisitPoints, WhyNotSpace, end_name
from benchmarks.ears import Site, drawn_ears, random_site_on
from benchmarks.recheck_scenes import BALL_MM, SPARE_MM, U_LEAN_DEG, U_SLIDE_MM
from benchmarks.scenes import seeds
from benchmarks.view_scenes import (
    ASKED,
    SETS,
    ViewScene,
    cards_of,
    draw_view_scene,
)
from calibration.draws import Draws
from calibration.frames import Array
from calibration.view_photo import Mark
from calibration.views import ViewsSolved, dots_in_space
from sample_images.ears import Ear
from sample_images.visible import is_visible

EARS_SEED, SEED = 20261321, 20261322
EARS_COUNT = 10
DRAWS = 200
MOST_TILT_DEG, MOST_SHIFT_MM = 15.0, 4.0
U_PX = {"snapped": 0.5, "by hand": 2.0}
"""u of every mark, ends and places, px each axis."""
PLACES: dict[str, tuple[tuple[float, float], ...]] = {
    "three places": ((6.4, 3.5), (-3.5, 22.5), (13.6, -1.0)),
    "five places": ((6.4, 3.5), (-3.5, 22.5), (13.6, -1.0), (-7.0, 8.0), (11.0, 12.0)),
}
"""Where the lasting places are, x and y in the ear's frame: the spare dots of three sample sets,
nearly in one line, and two more beside it."""


@dataclass(frozen=True, slots=True)
class Moves:
    """What a post did, in the baseline's ways: tilt toward the face and outward, deg; shift, mm."""

    tilt_deg: Array  # (2,)
    shift_mm: Array  # (3,)


@dataclass(frozen=True, slots=True)
class SpaceScore:
    """One pair: true tilt (2,) deg, true shifts of both ends (2, 3) mm, and what was said."""

    ear: str
    setting: str
    changed: bool
    tilt_true: Array
    shifts_true: Array
    change: Change | WhyNotSpace

    @property
    def said(self) -> tuple[Change, Leaned]:
        """Return the change and its tilt; only of pairs that were compared."""
        if not isinstance(self.change, Change) or not isinstance(self.change.tilt, Leaned):
            raise TypeError("this pair wasn't compared in space")
        return self.change, self.change.tilt


def drawn_moves(rng: np.random.Generator, *, changed: bool) -> Moves:
    """Return a random movement, evenly over what is scored; none for an unchanged post."""
    if not changed:
        return Moves(np.zeros(2), np.zeros(3))
    way, far = rng.uniform(0, 2 * np.pi), rng.uniform(0, MOST_TILT_DEG)
    to = rng.standard_normal(3)
    shift = rng.uniform(0, MOST_SHIFT_MM) * to / np.linalg.norm(to)
    return Moves(far * np.array([np.cos(way), np.sin(way)]), shift)


def ends_of(frame: Array, middle: Array, half_mm: float, moves: Moves) -> Array:
    """Return both ends' centres, (2, 3) mm, where the axes are the rows of ``frame``."""
    size = float(np.deg2rad(np.linalg.norm(moves.tilt_deg)))
    way = moves.tilt_deg / max(float(np.linalg.norm(moves.tilt_deg)), 1e-12)
    axis = np.cos(size) * frame[0] + np.sin(size) * (way @ frame[1:])
    at = middle + moves.shift_mm @ frame
    return np.array([at + half_mm * axis, at - half_mm * axis])


def score(
    ear: Ear, setting: tuple[str, str], *, changed: bool, rng: np.random.Generator
) -> SpaceScore:
    """Return how the program does on one random pair on an ear."""
    site = random_site_on(ear, rng)
    scenes = [draw_view_scene(site.name, rng, aims=ASKED, site=site) for _ in range(2)]
    entry, exit_ = (np.asarray(p) for p in (site.placement.entry, site.placement.exit))
    half = (float(np.linalg.norm(entry - exit_)) + SPARE_MM) / 2 + BALL_MM
    rise = np.deg2rad(U_LEAN_DEG * rng.standard_normal())
    axis = (entry - exit_) / np.linalg.norm(entry - exit_)
    axis = np.cos(rise) * axis + np.sin(rise) * np.array([0.0, 0.0, -1.0])
    # The ways are the baseline card's, as the program tells them; the post moves in the ear.
    rotation = scenes[0].standing.rotation
    frame = axes_of(rotation @ axis, 1.0) @ rotation
    moves = drawn_moves(rng, changed=changed)
    still = Moves(np.zeros(2), np.zeros(3))
    then, now = (ends_of(frame, (entry + exit_) / 2, half, m) for m in (still, moves))
    shifts = (now - then) @ frame.T
    slides = [U_SLIDE_MM * rng.standard_normal() * _axis(ends) for ends in (then, now)]
    places = _places(site, PLACES[setting[1]])
    points = [
        visit_points(scene, ends + slide, places, U_PX[setting[0]], rng)
        for scene, ends, slide in zip(scenes, (then, now), slides, strict=True)
    ]
    draws = Draws(1, DRAWS, "baseline"), Draws(1, DRAWS, "now")
    worn = WornPost(None, U_SLIDE_MM, U_LEAN_DEG)
    said = compare_in_space(
        "A", (points[0], points[1]), (worn, worn), frozenset("A"), 1.0, draws, same_print=False
    )
    return SpaceScore(ear.name, ", ".join(setting), changed, moves.tilt_deg, shifts, said)


def _axis(ends: Array) -> Array:
    return np.asarray((ends[0] - ends[1]) / np.linalg.norm(ends[0] - ends[1]))


def _places(site: Site, at: Sequence[tuple[float, float]]) -> dict[str, Array]:
    """Return the lasting places on the ear's skin, (3,) mm each."""
    from_front = np.array([[x, y, -60.0] for x, y in at])
    hits = site.ear.hits(from_front, np.tile([0.0, 0.0, 1.0], (len(at), 1)))
    return {f"tie: {i}": hit for i, hit in enumerate(hits) if np.isfinite(hit).all()}


def visit_points(
    scene: ViewScene, ends: Array, places: dict[str, Array], u_px: float, rng: np.random.Generator
) -> VisitPoints | None:
    """Return a visit's points as the program has them from its five photos."""
    names = SETS["five"]
    cards = cards_of(scene, names, rng)
    marks = {}
    for name in names:
        view = scene.views[name]
        centre = scene.standing.to_ear(view.centre_card[None])[0]
        shown = is_visible(scene.site.ear, np.array(list(places.values())), centre)
        seen = {tie: at for (tie, at), there in zip(places.items(), shown, strict=True) if there}
        seen |= ends_shown(scene.site, ends, centre)
        if seen:
            px = view.pixels(scene.standing.to_card(np.array(list(seen.values()))))
            px = px + u_px * rng.standard_normal(px.shape)
            marks[name] = {
                n: Mark((float(x), float(y)), u_px) for n, (x, y) in zip(seen, px, strict=True)
            }
    found = dots_in_space(cards.with_marks({name: marks.get(name, {}) for name in names}), 0.0)
    return VisitPoints(found.points, names) if isinstance(found, ViewsSolved) else None


def ends_shown(site: Site, ends: Array, centre: Array) -> dict[str, Array]:
    """Return those ends' centres before which there is no tissue, seen from a place."""
    away = ends - centre
    reach = np.linalg.norm(away, axis=1)
    hits = site.ear.hits(np.tile(centre, (2, 1)), away / reach[:, None])
    near = np.nan_to_num(np.linalg.norm(hits - centre, axis=1), nan=1e9)
    return {
        end_name("A", end): at
        for end, at, clear in zip(("entry", "exit"), ends, near > reach - BALL_MM, strict=True)
        if clear
    }


def run_views(pairs: int, seed: int = SEED, ears_seed: int = EARS_SEED) -> list[SpaceScore]:
    """Return the scores: so many unchanged pairs and half as many moved, in each setting."""
    ears = list(drawn_ears(ears_seed, EARS_COUNT))
    settings = [(u, places) for u in U_PX for places in PLACES]
    plan = [
        (setting, changed)
        for setting in settings
        for changed in [False] * pairs + [True] * (pairs // 2)
    ]
    return [
        score(ears[i % len(ears)], setting, changed=changed, rng=rng)
        for i, ((setting, changed), rng) in enumerate(
            zip(plan, seeds(seed, len(plan)), strict=True)
        )
    ]
