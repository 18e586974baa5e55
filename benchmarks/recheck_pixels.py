"""Rendered pairs: a post with balls drawn into the ear, its ends found in the pixels.

The pairs are those of `benchmarks.recheck`, traced, but windows are rendered about both ends in
both photos, and the ends are where `tracing.round_end` finds them after a tap; where it finds none,
or plainly another thing, they are marked by hand.  Outlines and cards stay by geometry.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from assess.reading import U_MARK_MM
from assess.recheck_change import Change
from assess.recheck_marks import PostMarks
from benchmarks.ears import Site, drawn_ears, random_site_on
from benchmarks.flat_picture import camera_of, standing_of
from benchmarks.marking_scenes import BACKGROUNDS, cropped, random_look
from benchmarks.recheck import (
    EARS_COUNT,
    MARKINGS,
    MOST_VIEW_DEG,
    PairScore,
    compared,
    drawn_movement,
)
from benchmarks.recheck_scenes import (
    BALL_MM,
    Moved,
    VisitPhoto,
    draw_pair,
    photograph_and_ends,
    truth,
)
from benchmarks.scenes import seeds
from calibration.frames import Array, Image
from sample_images.ears import Ear
from sample_images.render import render
from sample_images.scene import Look, View
from sample_images.worn import BRUSHED, Metal, Worn
from tracing.round_end import NoRoundEnd, RoundEnd, round_end

EARS_SEED, SEED = 20261305, 20261306
WINDOW_PX = 256
TAP_MM = 0.5
PLAINLY_MM = 1.2
METALS = ((0.50, 0.49, 0.47), (0.80, 0.58, 0.27), (0.24, 0.22, 0.24))
"""Linear reflectances, red green blue (invented): steel, gold, dark."""
MOST_POLISHED = 0.9


@dataclass(frozen=True, slots=True)
class Found:
    """What came of one end in one photo: how, how far off (px, each axis), its u, px per mm."""

    how: str
    error_px: tuple[float, float]
    u_px: float
    px_per_mm: float


@dataclass(frozen=True, slots=True)
class Rendered:
    """A pair's score, and what came of its four ends."""

    score: PairScore
    ends: tuple[Found, ...]


def run_pixels(pairs: int, seed: int = SEED, ears_seed: int = EARS_SEED) -> Iterator[Rendered]:
    """Yield so many pairs, every other one unchanged; those with a hidden end are passed over."""
    ears = list(drawn_ears(ears_seed, EARS_COUNT))
    for i, rng in enumerate(seeds(seed, pairs)):
        found = rendered(ears[i % len(ears)], changed=bool(i // len(ears) % 2), rng=rng, index=i)
        if found is not None:
            yield found


def rendered(ear: Ear, *, changed: bool, rng: np.random.Generator, index: int) -> Rendered | None:
    """Return what comes of one random pair on an ear; None where an end is hidden."""
    site = random_site_on(ear, rng)
    first, later, person = draw_pair(site, rng, float(rng.uniform(0, MOST_VIEW_DEG)))
    drawn = drawn_movement(rng)
    moved = drawn if changed else Moved(swelling_mm=drawn.swelling_mm)
    tilt, shifts = truth(site, moved, person.lean_deg)
    photos, ends = [], list[Found]()
    for scene, how, visit in ((first, Moved(), 0), (later, moved, 1)):
        taken = photograph_and_ends(site, scene, how, person, MARKINGS["traced"], rng)
        if taken is None:
            return None
        look = random_look(rng, BACKGROUNDS[index % len(BACKGROUNDS)], 1700 + 2 * index + visit)
        photo, own = found_in(site, taken, (look, drawn_metal(index)), rng)
        photos.append(photo)
        ends += own
    said = compared(photos[0], photos[1])
    return Rendered(PairScore(ear.name, "rendered", changed, tilt, shifts, said), tuple(ends))


def drawn_metal(index: int) -> Metal:
    """Return a pair's metal: steel, gold or dark, from brushed to polished."""
    rng = np.random.default_rng([SEED, index])
    return Metal(METALS[rng.integers(len(METALS))], float(rng.uniform(0.0, MOST_POLISHED)))


def worn_at(site: Site, ends: Array, metal: Metal = BRUSHED) -> Worn:
    """Return a post whose balls' centres are there, (2, 3) mm."""
    held = replace(site.placement, entry=ends[0], exit=ends[1])
    length = float(np.linalg.norm(ends[0] - ends[1])) - 2 * BALL_MM
    return Worn(held, length, -BALL_MM, ball_mm=2 * BALL_MM, metal=metal)


def found_in(
    site: Site,
    taken: tuple[VisitPhoto, Array],
    looks: tuple[Look, Metal],
    rng: np.random.Generator,
) -> tuple[VisitPhoto, list[Found]]:
    """Return the photo with its post's ends, (2, 3) mm, where they are found in pixels."""
    (photo, ends), (look, metal) = taken, looks
    scene = photo.scene
    view = View(camera_of(scene), scene.size_px, scene.rvec, scene.tvec)
    scale = view.camera.fx / float(np.linalg.norm(view.centre_card - scene.anchor_card))
    worn = worn_at(site, ends, metal)
    places, found = [], []
    for at in scene.pixels(scene.to_card(ends)):
        low = np.round(at - WINDOW_PX / 2)
        close = cropped(view, low, low + WINDOW_PX)
        picture = render(site.ear, standing_of(scene), close, look, worn=worn, samples=1)
        place, how = tapped(picture, at - low, 1.0 / scale, rng)
        error = place[:2] + low - at
        places.append((*(place[:2] + low), place[2]))
        found.append(Found(how, (float(error[0]), float(error[1])), float(place[2]), scale))
    (ex, ey, eu), (ox, oy, ou) = (tuple(float(v) for v in place) for place in places)
    marked = PostMarks((ex, ey), (ox, oy), None, max(eu, ou))
    return replace(photo, post=marked), found


def tapped(
    picture: Image, at_px: Array, mm_per_px: float, rng: np.random.Generator
) -> tuple[Array, str]:
    """Return an end's place and u, (3,) px, and how it was found: ``round``, or why by hand."""
    near = at_px + TAP_MM / mm_per_px * np.clip(rng.standard_normal(2), -2, 2)
    found = round_end(picture, near, mm_per_px)
    if isinstance(found, RoundEnd):
        place = np.array([found.x, found.y])
        if float(np.linalg.norm(place - at_px)) * mm_per_px < PLAINLY_MM:
            return np.array([*place, found.u_px]), "round"
    why = found.reason if isinstance(found, NoRoundEnd) else "plainly another thing"
    u_px = U_MARK_MM / mm_per_px
    return np.array([*(at_px + u_px * rng.standard_normal(2)), u_px]), why


def pixel_lines(found: list[Rendered], tried: int) -> list[str]:
    """Return what is said of the ends that were looked for in pixels."""
    ends = [end for each in found for end in each.ends]
    snapped = [end for end in ends if end.how == "round"]
    errors = np.array([end.error_px for end in snapped]).reshape(-1, 2)
    over = errors / np.array([[end.u_px] for end in snapped]).reshape(-1, 1)
    mm = np.linalg.norm(errors, axis=1) / np.array([end.px_per_mm for end in snapped])
    whys = [end.how for end in ends if end.how != "round"]
    counts = ", ".join(f"{whys.count(why)} {why}" for why in sorted(set(whys)))
    said = sum(isinstance(each.score.change, Change) for each in found)
    return [
        f"{tried} pairs drawn, {len(found)} with all four ends in sight, {said} compared. Of "
        f"{len(ends)} ends {len(snapped)} were found round; by hand: {counts or 'none'}.",
        "",
        f"Found ends: off by {np.sqrt(np.mean(mm**2)):.3f} mm (RMS; median {np.median(mm):.3f}, "
        f"largest {mm.max():.2f}); error over u, each axis {np.sqrt(np.mean(over**2)):.2f} (RMS), "
        f"{100 * np.mean(np.abs(over) < 1.96):.1f} % within 1.96 u.",
        "",
    ]
