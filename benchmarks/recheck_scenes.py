"""Pairs of visits by geometry: one ear, its card put on anew, the post as it was or moved.

Outlines are what each camera sees of the ear, cast against its mesh; the tissue near the piercing
swells.  What the program is told differs from the truth by draws with the stated uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from assess.marks import Marks, PhotoMarks, PlacementMarks, RimPlane
from assess.reading import PhotoReading
from assess.recheck_marks import PostMarks, WornPost
from benchmarks.accuracy import card_marks, reading_of
from benchmarks.ears import Site
from benchmarks.scenes import (
    SIZE_PX,
    U_BAR_MM,
    U_FOCAL,
    U_OFFSET_MM,
    U_TILT_DEG,
    Scene,
    Told,
    draw_card,
    stand,
)
from calibration.card import Card
from calibration.frames import Array
from sample_images.visible import contours, outer_contour

SPARE_MM, BALL_MM = 3.0, 1.5
"""Spare length of the post, and how far a ball's centre lies beyond its thread."""
U_SLIDE_MM, U_LEAN_DEG = 0.3, 10.0
BUMP_MM = 4.0
"""How far along the rim swelling reaches (standard deviation)."""
ROLL_DEG = 4.0
VERTICES, INNER_VERTICES = 45, 24
ALONG = (0.2, 0.92)
"""Where on the helix's line the outer outline begins and ends: as far as it can be followed."""
BASE_TILT_DEG = 10.0


@dataclass(frozen=True, slots=True)
class Moved:
    """What happened between the visits: in the rim's plane, and swelling."""

    tilt_deg: float = 0.0
    shift_mm: tuple[float, float] = (0.0, 0.0)
    swelling_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Marking:
    """How well marks are made: u of an outline's vertex and of a post's end, px each axis."""

    line_px: float = 1.0
    end_px: float = 0.5


@dataclass(frozen=True, eq=False)
class VisitPhoto:
    """One marked photo of a visit, as the program gets it, and what is true of it."""

    marks: Marks
    post: PostMarks
    reading: PhotoReading
    worn: WornPost
    scene: Scene


def ends_at(site: Site, moved: Moved, lean_deg: float, slide_mm: float) -> Array:
    """Return the ends' centres in the ear's frame, (2, 3) mm: entry, exit."""
    entry, exit_ = (np.asarray(p) for p in (site.placement.entry, site.placement.exit))
    middle, length = (entry + exit_) / 2, float(np.linalg.norm(entry - exit_))
    axis = (entry - exit_) / length
    rise = np.deg2rad(lean_deg)
    leaning = np.cos(rise) * axis + np.sin(rise) * np.array([0.0, 0.0, -1.0])
    turn, _ = cv2.Rodrigues(np.array([0.0, 0.0, np.deg2rad(moved.tilt_deg)]))
    turned = np.asarray(turn) @ leaning
    half = (length + SPARE_MM) / 2 + BALL_MM
    at = middle + np.array([*moved.shift_mm, 0.0]) + slide_mm * turned
    return np.array([at + half * turned, at - half * turned])


def truth(site: Site, moved: Moved, lean_deg: float) -> tuple[float, Array]:
    """Return the true tilt (deg, toward the face) and the ends' shifts, (2, 2) mm, by the axis."""
    then = ends_at(site, Moved(), lean_deg, 0.0)
    now = ends_at(site, moved, lean_deg, 0.0)
    axis = (then[0] - then[1])[:2]
    axis = axis / np.linalg.norm(axis)
    frame = np.stack([axis, [axis[1], -axis[0]]])
    return -moved.tilt_deg, (now - then)[:, :2] @ frame.T


def swollen(site: Site, points: Array, outward: float, swelling_mm: float) -> Array:
    """Return skin, (N, 3) mm, moved out (+1 above, -1 below) where the tissue swells."""
    entry, exit_ = (np.asarray(p) for p in (site.placement.entry, site.placement.exit))
    axis = (entry - exit_) / np.linalg.norm(entry - exit_)
    across = np.cross(axis, [0.0, 0.0, 1.0])
    away = (points - (entry + exit_) / 2) @ across
    bump = 0.5 * swelling_mm * np.exp(-0.5 * (away / BUMP_MM) ** 2)
    return np.asarray(points + outward * bump[:, None] * axis)


@dataclass(frozen=True, slots=True)
class Person:
    """What stays the same over both visits: the phone, the card's print, how the post leans."""

    camera: Array
    k1: float
    print_scale: tuple[float, float]
    check_bar_mm: tuple[float, float]
    told_focal_px: float
    lean_deg: float


def draw_person(rng: np.random.Generator, card_mm: tuple[float, float]) -> Person:
    """Return a random phone, print and post; ``card_mm`` are the card's nominal check bars."""
    focal = rng.uniform(0.68, 0.85) * SIZE_PX[0]
    centre = (np.array(SIZE_PX) - 1) / 2 + 15.0 * rng.standard_normal(2)
    camera = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
    scale = 1 + rng.uniform(-0.012, 0.012, 2)
    bars = np.asarray(card_mm) * scale + U_BAR_MM * rng.standard_normal(2)
    return Person(
        camera,
        float(rng.uniform(-0.05, 0.05)),
        (float(scale[0]), float(scale[1])),
        (float(bars[0]), float(bars[1])),
        float(focal * (1 + U_FOCAL * rng.standard_normal())),
        float(U_LEAN_DEG * rng.standard_normal()),
    )


def draw_pair(
    site: Site, rng: np.random.Generator, view_change_deg: float, u_tilt_deg: float = U_TILT_DEG
) -> tuple[Scene, Scene, Person]:
    """Return the scenes of two visits whose views differ by that much, by the cards."""
    card, place = draw_card(rng)
    person = draw_person(rng, card.check_bar_mm)
    tilt, azimuth = np.deg2rad(rng.uniform(0, BASE_TILT_DEG)), rng.uniform(0, 2 * np.pi)
    base = np.tan(tilt) * np.array([np.cos(azimuth), np.sin(azimuth)])
    way = rng.uniform(0, 2 * np.pi)
    other = base + np.tan(np.deg2rad(view_change_deg)) * np.array([np.cos(way), np.sin(way)])
    first, later = (
        _scene(site, (card, place), person, rng, aside, u_tilt_deg) for aside in (base, other)
    )
    return first, later, person


def _scene(
    site: Site,
    card: tuple[Card, tuple[float, float]],
    person: Person,
    rng: np.random.Generator,
    aside: Array,
    u_tilt_deg: float,
) -> Scene:
    """Return a visit's scene: the card put on anew, the phone ``aside`` of the card's normal."""
    offset = rng.uniform(-10, 10)
    anchor = np.array([*(np.asarray(card[1]) + rng.uniform(-4, 4, 2)), -offset])
    turns = np.deg2rad([*(u_tilt_deg * rng.standard_normal(2)), 0.0])
    roll, _ = cv2.Rodrigues(np.deg2rad([0.0, 0.0, ROLL_DEG * rng.standard_normal()]))
    rotation = np.asarray(cv2.Rodrigues(turns)[0] @ roll, dtype=np.float64)
    # The view stays the same to the ear: with the ear the direction turns in the card's plane.
    seen = np.asarray(roll)[:2, :2] @ aside
    tilt, azimuth = float(np.arctan(np.hypot(*seen))), float(np.arctan2(seen[1], seen[0]))
    distance, turned = rng.uniform(200, 300), np.deg2rad(rng.normal(0, 5))
    pose = stand(card[0], anchor, tilt, azimuth, distance, turned)
    kept = rng.random(len(card[0].corner_ids)) > rng.uniform(0, 0.4)
    read_mm = offset + U_OFFSET_MM * rng.standard_normal()
    told = Told(person.told_focal_px, read_mm, u_tilt_deg, person.check_bar_mm)
    return Scene(
        card[0],
        rotation,
        0.5 * (np.asarray(site.placement.entry) + np.asarray(site.placement.exit)),
        anchor,
        person.camera,
        np.array([person.k1, 0, 0, 0, 0]),
        *pose,
        person.print_scale,
        tuple(np.asarray(card[0].corner_ids)[kept].tolist()),
        float(np.rad2deg(tilt)),
        float(distance),
        told,
    )


def ends_seen(site: Site, scene: Scene, ends: Array) -> bool:
    """Return whether the camera sees both ends: no tissue before their centres."""
    centre = scene.centre_ear
    away = ends - centre
    reach = np.linalg.norm(away, axis=1)
    hits = site.ear.hits(np.tile(centre, (2, 1)), away / reach[:, None])
    near = np.nan_to_num(np.linalg.norm(hits - centre, axis=1), nan=1e9)
    return bool((near > reach - BALL_MM).all())


def photograph(
    site: Site,
    scene: Scene,
    moved: Moved,
    person: Person,
    marking: Marking,
    rng: np.random.Generator,
) -> VisitPhoto | None:
    """Return a visit's marked photo; None where an end of the post is hidden."""
    taken = photograph_and_ends(site, scene, moved, person, marking, rng)
    return None if taken is None else taken[0]


def photograph_and_ends(
    site: Site,
    scene: Scene,
    moved: Moved,
    person: Person,
    marking: Marking,
    rng: np.random.Generator,
) -> tuple[VisitPhoto, Array] | None:
    """Return a visit's marked photo, and where its post's ends truly are, (2, 3) mm ear frame."""
    slide = float(U_SLIDE_MM * rng.standard_normal())
    ends = ends_at(site, moved, person.lean_deg, slide)
    if not ends_seen(site, scene, ends):
        return None
    outer = outer_contour(site.ear, scene.centre_ear, ALONG, VERTICES)
    _, inner = contours(site.ear, scene.centre_ear, INNER_VERTICES)
    lines = [
        scene.pixels(scene.to_card(swollen(site, line, sign, moved.swelling_mm)))
        for line, sign in ((outer, 1.0), (inner, -1.0))
    ]
    lines = [line + marking.line_px * rng.standard_normal(line.shape) for line in lines]
    ends_px = scene.pixels(scene.to_card(ends))
    ends_px = ends_px + marking.end_px * rng.standard_normal(ends_px.shape)
    (ex, ey), (ox, oy) = ends_px.tolist()
    post = PostMarks((ex, ey), (ox, oy), None, marking.end_px)
    reading = reading_of(scene, ends_px, (scene.corners_px(rng), np.asarray(scene.corner_ids)))
    marks = _marks(scene, lines, marking)
    worn = WornPost(None, U_SLIDE_MM, U_LEAN_DEG)
    return VisitPhoto(marks, post, reading, worn, scene), ends


def _marks(scene: Scene, lines: list[Array], marking: Marking) -> Marks:
    """Return the marks file's content: both outlines, (N, 2) px each, and what is told."""
    outer, inner = ([(float(x), float(y)) for x, y in line] for line in lines)
    photo = PhotoMarks(
        file="scene",
        sigma_px=marking.line_px,
        outer_rim=tuple(outer),
        inner_rim=tuple(inner),
        placements=(PlacementMarks(label="A"),),
    )
    told = scene.told
    plane = RimPlane(
        offset_mm=told.offset_mm, u_offset_mm=told.u_offset_mm, u_tilt_deg=told.u_tilt_deg
    )
    return Marks(
        format="rimspan-marks/1",
        side="left",
        card=card_marks(scene),
        rim_plane=plane,
        photos=(photo,),
    )
