"""Scenes whose card is found on pixels and whose ears are meshes: the model against the shapes.

Each scene is drawn cheaply (`flat_picture`), read by the program as any photo is, and marked in
three ways: the ear's true ends, its visible edges, and as a piercer sees it, a dot where rays
reach the end and the edge elsewhere.  About half the scenes are of the named ears, made by hand
to differ; the others are of new ears, drawn as those were that the band's model comes from, but
none of them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading, read_view
from benchmarks.accuracy import Score, card_marks, channel_of, marks_of, middle_of
from benchmarks.band_model import edge_places, model_for
from benchmarks.ears import EARS, Site, drawn_ears, random_site, random_site_on
from benchmarks.flat_picture import camera_of, draw_take, flat_picture, standing_of
from benchmarks.scenes import Scene, draw_scene, seeds
from benchmarks.stated import SIGMA_PX, U_OFFSET_MM
from calibration.find import CardSeen, find_card
from calibration.frames import Array, Image
from calibration.lens import DIAGONAL_35MM
from calibration.photo import CaptureFacts, Photo
from sample_images.ears import Ear, build_ear
from sample_images.render import render
from sample_images.scene import Look, View
from sample_images.skin import TONES
from sample_images.visible import is_visible

SEED = 20261126
SCENES_AN_EAR = 6
RENDERED = 0.32
"""1280 x 960 px: a full rendering is drawn smaller than a phone takes it, to save time."""
SHRUNK = 0.5
"""2000 x 1500 px, as the sample photos: a phone's 12 MP would take three times as long."""


@dataclass(frozen=True, slots=True)
class Pictured:
    """What came of the scenes: scores, why others gave none, how far the corners were off."""

    scores: list[Score]
    refused: Counter[str]
    corner_errors_px: Array  # (N, 2)
    seen: Counter[str]
    """Which ends' dots were seen."""


def facts_of(scene: Scene) -> CaptureFacts:
    """Return what EXIF says of the scene's photo."""
    width, height = scene.size_px
    focal_35mm = scene.told.focal_px * DIAGONAL_35MM / float(np.hypot(width, height))
    return CaptureFacts(width, height, focal_35mm=focal_35mm)


def corner_errors(scene: Scene, seen: CardSeen) -> Array:
    """Return found minus true corners, (N, 2) px."""
    true = scene.pixels(scene.printed(scene.card.corners_mm(seen.corner_ids.tolist())))
    return np.asarray(seen.corners_px - true)


def ways_of(site: Site, scene: Scene) -> dict[str, tuple[str, Array]]:
    """Return how a scene is marked: the score's kind -> the marks' kind and places, (2, 3) mm."""
    ends = np.array([site.placement.entry, site.placement.exit], dtype=np.float64)
    ways = {"ends": ("ends", ends)}
    edges = edge_places(site, scene.centre_ear)
    dots = is_visible(site.ear, ends, scene.centre_ear)
    if edges is not None:
        ways["edges"] = ("edges", edges)
        kind = {(True, True): "ends", (True, False): "entry's dot", (False, True): "exit's dot"}
        as_seen = kind.get((bool(dots[0]), bool(dots[1])), "edges")
        ways["seen"] = (as_seen, np.where(dots[:, None], ends, edges))
    return ways


def run_pictured(count: int, seed: int = SEED) -> Pictured:
    """Return what comes of ``count`` scenes, ear after ear."""
    out = Pictured([], Counter(), np.zeros((0, 2)), Counter())
    errors = []
    for i, (ear, rng) in enumerate(zip(_ears(count, seed), seeds(seed, count), strict=True)):
        site = random_site_on(ear, rng)
        scene = draw_scene(rng, middle_of(site), rim_tilt=True, u_offset_mm=U_OFFSET_MM)
        scene = scene.shrunk(SHRUNK)
        photo = Photo(flat_picture(site.ear, scene, draw_take(rng)), facts_of(scene))
        known = read_view(photo, file="scene", card=card_marks(scene))
        if known.seen is None:
            out.refused["no card"] += 1
            continue
        errors.append(corner_errors(scene, known.seen))
        _score(out, site, scene, photo, known, rng, i + 1)
    return Pictured(out.scores, out.refused, np.concatenate(errors), out.seen)


def _ears(count: int, seed: int) -> Iterator[Ear]:
    """Yield an ear for each scene: the named ones in turn, then new ones, four scenes each."""
    named = count // 2
    for i in range(named):
        yield build_ear(EARS[i * len(EARS) // named])
    rest = count - named
    for ear in drawn_ears(seed, -(-rest // SCENES_AN_EAR)):
        yield from [ear] * min(rest, SCENES_AN_EAR)
        rest -= SCENES_AN_EAR


def _score(
    out: Pictured,
    site: Site,
    scene: Scene,
    photo: Photo,
    known: PhotoReading,
    rng: np.random.Generator,
    seed: int,
) -> None:
    """Add the scores of one photo, marked in every way."""
    sigma_px = SHRUNK * float(rng.uniform(*SIGMA_PX))
    ways = ways_of(site, scene)
    out.seen[ways["seen"][0] if "seen" in ways else "no edge"] += 1
    for kind, (outlined, places) in ways.items():
        marked = scene.pixels(scene.to_card(places))
        marked = marked + sigma_px * rng.standard_normal(marked.shape)
        marks = marks_of(scene, marked, sigma_px, outlined)
        reading = read_view(
            photo,
            file="scene",
            entry=marks.photos[0],
            card=card_marks(scene),
            offset_mm=scene.told.offset_mm,
            known=known,
        )
        if reading.refusal or (reading.tilt_deg or 0.0) > ONE_VIEW_TILT_DEG:
            out.refused["tilt over 20°" if not reading.refusal else "no pose"] += 1
            continue
        out.scores.append(
            Score(
                site.name,
                kind,
                sigma_px,
                True,
                scene.view_tilt_deg,
                scene.distance_mm,
                site.placement.channel_mm,
                channel_of(marks, reading, seed, model_for(site.name)),
                float(np.linalg.norm(marked[0] - marked[1])) / scene.plain_scale(),
            )
        )


def full_picture(ear: Ear, scene: Scene, seed: int) -> Image:
    """Return the scene rendered in full, (H, W, 3)."""
    view = View(camera_of(scene), scene.size_px, scene.rvec, scene.tvec)
    tones = list(TONES)
    look = Look(tone=tones[seed % len(tones)], blur_px=0.5, seed=seed)
    return render(ear, standing_of(scene), view, look)


@dataclass(frozen=True, slots=True)
class Compared:
    """Corners found in the cheap picture and in the fully rendered one of the same scene."""

    scenes: int
    flat_px: Array  # (N, 2) found minus true
    full_px: Array  # (N, 2), the same corners
    only_flat: int
    only_full: int


def compare(count: int, seed: int = SEED + 1) -> Compared:
    """Return how alike corners are found in both kinds of picture, at the renderer's size."""
    flat_px, full_px, only = [], [], np.zeros(2, dtype=np.int64)
    scenes = 0
    for i, rng in enumerate(seeds(seed, count)):
        site = random_site(list(EARS)[i % len(EARS)], rng)
        scene = draw_scene(rng, middle_of(site), rim_tilt=True).shrunk(RENDERED)
        take = replace(draw_take(rng), covers=(), blur_px=0.5, gradient=(0.0, 0.0))
        flat = find_card(flat_picture(site.ear, scene, take))
        full = find_card(full_picture(site.ear, scene, i))
        if not isinstance(flat, CardSeen) or not isinstance(full, CardSeen):
            continue
        scenes += 1
        _, in_flat, in_full = np.intersect1d(flat.corner_ids, full.corner_ids, return_indices=True)
        flat_px.append(corner_errors(scene, flat)[in_flat])
        full_px.append(corner_errors(scene, full)[in_full])
        only += len(flat.corner_ids) - len(in_flat), len(full.corner_ids) - len(in_full)
    both = np.concatenate(flat_px), np.concatenate(full_px)
    return Compared(scenes, *both, int(only[0]), int(only[1]))
