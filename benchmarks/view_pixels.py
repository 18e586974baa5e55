"""Several views on pixels: pen dots found where they are rendered, not jittered places.

Rendered is what the program looks at to find a dot: a window about it.  Cards are found by
geometry, as in `benchmarks.views`.  A piercer taps each dot; where the program takes none, or one
that is plainly another, they tap again with more care, and mark it by hand at the last.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from assess.reading import U_MARK_MM
from benchmarks.dot_scenes import EDGE_LEAST, INKS
from benchmarks.marking import WIDE_PX
from benchmarks.marking_scenes import BACKGROUNDS, cropped, random_look
from benchmarks.view_scenes import Dots, ViewScene
from calibration.frames import Array, Image
from calibration.view_photo import Mark
from sample_images.render import render
from sample_images.scene import Look, Spot, Standing
from sample_images.visible import disc_seen, least_width_px
from tracing.dots import Dot, snap

WINDOW_PX = 256
ROOM_MM = 5.2
"""How far round a tap the program looks, and a little: a window holds that about each dot."""
TAP_MM, AGAIN_MM = 0.5, 0.2
"""How far off a tap is, each axis (sd, cut at twice): the first, and one with care."""
PLAINLY_MM = 1.0
"""A dot taken further off than this is seen to be another."""
DIAMETER_MM = (0.7, 1.4)


@dataclass(frozen=True, eq=False)
class Pen:
    """How a scene looks: light and skin, and its dots."""

    look: Look
    spots: tuple[Spot, ...]


@dataclass(frozen=True, slots=True)
class Tapped:
    """What came of a dot in one photo: the mark, how far off it is (px), the tap that found it.

    ``tap`` is 1 or 2; 0 where it was marked by hand.
    """

    photo: str
    dot: str
    mark: Mark
    error_px: tuple[float, float]
    tap: int


def pen_of(scene: ViewScene, rng: np.random.Generator, index: int) -> Pen:
    """Return a random look, and dots of one pen on a scene's ear."""
    look = random_look(rng, BACKGROUNDS[index % len(BACKGROUNDS)], 900 + index)
    ink = INKS[list(INKS)[int(rng.integers(len(INKS)))]]
    radius = float(rng.uniform(*DIAMETER_MM)) / 2
    spots = tuple(
        Spot(tuple(at.tolist()), radius * float(rng.uniform(0.92, 1.08)), ink)
        for at in scene.dots.values()
    )
    return Pen(look, spots)


def dots_shown(scene: ViewScene, radius_mm: float) -> ViewScene:
    """Return the scene with only those dots seen that a piercer would find in a photo.

    A dot whose centre is just seen may be seen so much from the side that nothing is left of it.
    """
    rng = np.random.default_rng(1)  # only for places on each dot
    seen = {photo: _shown(scene, photo, radius_mm, rng) for photo in scene.views}
    return replace(scene, seen=seen)


def _shown(
    scene: ViewScene, photo: str, radius_mm: float, rng: np.random.Generator
) -> frozenset[str]:
    view, ear = scene.views[photo], scene.site.ear
    centre = scene.standing.to_ear(view.centre_card[None])[0]
    found = set()
    for name in sorted(scene.seen[photo]):
        share, places = disc_seen(ear, scene.dots[name], radius_mm, centre, rng)
        if share >= EDGE_LEAST:
            width = least_width_px(view.pixels(scene.standing.to_card(places)))
            found |= {name} if width >= WIDE_PX else set()
    return frozenset(found)


def moved(standing: Standing, move: Array) -> Standing:
    """Return where the ear stands after the card moved: turn (rad) and shift (mm), (6,)."""
    turned, _ = cv2.Rodrigues(move[:3])
    return replace(
        standing,
        rotation=np.asarray(turned) @ standing.rotation,
        anchor_card=standing.anchor_card + move[3:],
    )


def windows(
    places: Mapping[str, Array], px_per_mm: float
) -> Iterator[tuple[Array, tuple[str, ...]]]:
    """Yield windows' low corners, (2,) px, and the dots that each holds with room about them."""
    room = ROOM_MM * px_per_mm
    left = dict(places)
    while left:
        own: list[str] = []
        for name in left:
            tried = np.array([left[each] for each in [*own, name]])
            if np.all(np.ptp(tried, axis=0) + 2 * room <= WINDOW_PX) or not own:
                own.append(name)
        held = np.array([left.pop(name) for name in own])
        middle = (held.min(axis=0) + held.max(axis=0)) / 2
        yield np.round(middle - WINDOW_PX / 2), tuple(own)


def tapped(
    scene: ViewScene,
    photo: str,
    names: Sequence[str],
    standing: Standing,
    pen: Pen,
    rng: np.random.Generator,
    samples: int = 1,
) -> Iterator[Tapped]:
    """Yield what comes of those dots in a photo, on windows rendered about them."""
    view = scene.views[photo]
    at = view.pixels(standing.to_card(np.array([scene.dots[name] for name in names])))
    scale = view.camera.fx / float(np.linalg.norm(view.centre_card - standing.anchor_card))
    places = dict(zip(names, at, strict=True))
    for low, held in windows(places, scale):
        close = cropped(view, low, low + WINDOW_PX)
        picture = render(scene.site.ear, standing, close, pen.look, pen.spots, samples=samples)
        for name in held:
            mark, tap = tap_dot(picture, places[name] - low, 1.0 / scale, rng)
            x, y = np.array(mark.at_px) + low
            error = np.array([x, y]) - places[name]
            told = Mark((float(x), float(y)), mark.u_px)
            yield Tapped(photo, name, told, (float(error[0]), float(error[1])), tap)


def tap_dot(
    picture: Image, at_px: Array, mm_per_px: float, rng: np.random.Generator
) -> tuple[Mark, int]:
    """Return the mark of the dot at a place, and which tap found it (0: marked by hand)."""
    for tap, sd_mm in ((1, TAP_MM), (2, AGAIN_MM)):
        near = at_px + sd_mm / mm_per_px * np.clip(rng.standard_normal(2), -2, 2)
        found = snap(picture, near, mm_per_px)
        if isinstance(found, Dot):
            away_mm = float(np.linalg.norm(found.point_px - at_px)) * mm_per_px
            if away_mm < PLAINLY_MM:
                x, y = found.point_px
                return Mark((float(x), float(y)), float(found.u_px)), tap
    u_px = U_MARK_MM / mm_per_px
    x, y = at_px + u_px * rng.standard_normal(2)
    return Mark((float(x), float(y)), u_px), 0


def as_told(found: Sequence[Tapped]) -> dict[str, Mark]:
    """Return one photo's marks with u as a marks file tells it: the placement's worst, the ties'.

    Of a placement the dots that were snapped have one u; ties do if all of them were, else they
    count as marked by hand.
    """
    ties = [each for each in found if each.dot.startswith("tie")]
    snapped = [each.mark.u_px for each in found if each.tap and each not in ties]
    by_hand = [each.mark.u_px for each in ties if not each.tap]
    worst = max(snapped, default=0.0)
    worst_tie = max(by_hand or [each.mark.u_px for each in ties], default=0.0)
    told = {}
    for each in found:
        u = worst_tie if each in ties else worst if each.tap else each.mark.u_px
        told[each.dot] = replace(each.mark, u_px=u)
    return told


def dots_of(names: Sequence[str], dots: Dots) -> list[str]:
    """Return those of the seen dots that are marked."""
    return [name for name in sorted(names) if dots == "ties" or not name.startswith("tie")]
