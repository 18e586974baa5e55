"""Sets of photos by geometry: a parameter ear with pen dots, a card, one phone in several places.

What a camera sees of the dots is cast against the ear's mesh.  The card may move against the ear
between the upper and the lower photos.  What the program is told (focal length, check bars)
differs from the truth by draws with the stated uncertainty.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from assess.marks import CardMarks
from assess.scale import PrintScale, print_scale
from assess.space import print_prior
from assess.view_set import VIEWS
from benchmarks.ears import Site, random_site
from benchmarks.scenes import CENTRE_SD_PX, CORNER_NOISE_PX, SIZE_PX, U_BAR_MM, U_FOCAL
from calibration.card import FRAME, POCKET, Card
from calibration.cards_alone import Cards, cards_alone
from calibration.frames import Array
from calibration.lens import Camera, LensPrior
from calibration.pose import PlaneFit, fit_plane
from calibration.view_photo import Mark, view_photo
from sample_images.scene import Standing, View, look_at
from sample_images.sets import TIES_XY
from sample_images.visible import is_visible

Aims = Mapping[str, tuple[tuple[float, float], tuple[float, float] | None]]
"""Each photo's elevation and its turn to the right, deg; straight up and down without one."""

STRAIGHT: Aims = {
    "square-on": ((-5.0, 5.0), None),
    "above-1": ((15.0, 25.0), None),
    "above-2": ((30.0, 40.0), None),
    "below-1": ((-37.0, -27.0), None),
    "below-2": ((-52.0, -42.0), None),
}
RIGHT, LEFT = (15.0, 25.0), (-15.0, -25.0)
FANNED: Aims = {
    name: (rise, RIGHT if name.endswith("1") else LEFT if name.endswith("2") else None)
    for name, (rise, _) in STRAIGHT.items()
}
"""Fanned, of two photos from above one is taken from the front, one from behind; as below."""
ASKED: Aims = {
    name: (view.rise_deg, view.behind_deg) for name, view in zip(STRAIGHT, VIEWS, strict=True)
}
"""As the guide asks for them, of a left ear: above-1 is from above, above-2 from behind, below-1
from the front, below-2 from below."""

SETS: Mapping[str, tuple[str, ...]] = {
    "two": ("square-on", "below-1"),
    "three": ("square-on", "above-1", "below-1"),
    "four": ("above-1", "above-2", "below-1", "below-2"),
    "five": tuple(STRAIGHT),
}
UPPER = ("square-on", "above-1", "above-2")
ASIDE_SD_DEG = 3.0
"""How far aside of straight up and down a photo is taken, where it isn't fanned."""
Dots = Literal["ties", "placement", "ends"]
ENDS = ("A/entry", "A/exit")
U_TILT_DEG = 5.8
LEVER_MM = 50.0


@dataclass(frozen=True, eq=False)
class ViewScene:
    """One ear with its dots (ear frame), one card, one phone at several places."""

    site: Site
    standing: Standing
    camera: Camera
    views: Mapping[str, View]
    corner_ids: tuple[int, ...]
    told_focal_px: float
    check_bar_mm: tuple[float, float]
    dots: Mapping[str, Array]
    seen: Mapping[str, frozenset[str]]
    """Photo -> the dots that it sees."""

    @property
    def scale(self) -> PrintScale:
        """Return the print's scale as the program has it from the bars."""
        return print_scale(self.standing.card, self.card_marks)

    @property
    def card_marks(self) -> CardMarks:
        """Return the card as the marks file tells it."""
        return CardMarks(id=self.standing.card.id, check_bar_mm=self.check_bar_mm)

    def prior(self, *, known: bool) -> LensPrior:
        """Return what is told of the lens: a camera profile, or EXIF's focal length."""
        width, height = SIZE_PX
        if known:
            told = self.camera
            return LensPrior(told, 0.0006, 0.0006, "given")
        camera = Camera(self.told_focal_px, self.told_focal_px, (width - 1) / 2, (height - 1) / 2)
        return LensPrior(camera, U_FOCAL, 0.05, "exif")

    def corners(self, name: str, rng: np.random.Generator) -> tuple[Array, Array]:
        """Return the card's corners as found in a photo, px, and as printed by the bars, mm."""
        nominal = self.standing.card.corners_mm(self.corner_ids)
        real = np.column_stack(
            [nominal * np.asarray(self.standing.print_scale), np.zeros(len(nominal))]
        )
        seen = self.views[name].pixels(real)
        return seen + CORNER_NOISE_PX * rng.standard_normal(seen.shape), self.scale.corrected(
            nominal
        )

    def dot_px(self, name: str, dot: str, move: Array) -> Array:
        """Return where a dot is seen, (2,) px, the card having moved: turn (rad), shift (mm)."""
        at = self.standing.to_card(self.dots[dot][None])[0]
        pivot = self.standing.anchor_card
        turned, _ = cv2.Rodrigues(move[:3])
        moved = pivot + turned @ (at - pivot) + move[3:]
        return np.asarray(self.views[name].pixels(moved[None])[0])


def draw_view_scene(
    name: str,
    rng: np.random.Generator,
    *,
    aims: Aims,
    site: Site | None = None,
) -> ViewScene:
    """Return a random scene on an ear with the five photos."""
    site = site or random_site(name, rng)
    placement = site.placement
    middle = (placement.entry + placement.exit) / 2
    card, place = (FRAME, (69.0, 62.0)) if rng.random() < 0.5 else (POCKET, (112.0, 22.0))
    anchor = np.array([*(np.asarray(place) + rng.uniform(-4, 4, 2)), rng.uniform(-10, 10)])
    turn, _ = cv2.Rodrigues(np.deg2rad(U_TILT_DEG) * np.array([*rng.standard_normal(2), 0.0]))
    scale = tuple(1 + rng.uniform(-0.012, 0.012, 2))
    standing = Standing(card, (scale[0], scale[1]), np.asarray(turn), middle, anchor)
    camera = _phone(rng)
    views = {view: _view(aim, card, anchor, camera, rng) for view, aim in aims.items()}
    bars = [
        float(bar * s + U_BAR_MM * rng.standard_normal())
        for bar, s in zip(card.check_bar_mm, scale, strict=True)
    ]
    kept = rng.random(len(card.corner_ids)) > rng.uniform(0, 0.3)
    dots = _dots(site)
    return ViewScene(
        site,
        standing,
        camera,
        views,
        tuple(np.asarray(card.corner_ids)[kept].tolist()),
        camera.fx * (1 + U_FOCAL * rng.standard_normal()),
        (bars[0], bars[1]),
        dots,
        {view: _seen(site, dots, standing, at) for view, at in views.items()},
    )


def _phone(rng: np.random.Generator) -> Camera:
    focal = float(rng.uniform(0.68, 0.85) * SIZE_PX[0])
    centre = (np.array(SIZE_PX) - 1) / 2 + CENTRE_SD_PX * rng.standard_normal(2)
    return Camera(focal, focal, float(centre[0]), float(centre[1]), (rng.uniform(-0.05, 0.05),))


def _view(
    aim: tuple[tuple[float, float], tuple[float, float] | None],
    card: Card,
    anchor: Array,
    camera: Camera,
    rng: np.random.Generator,
) -> View:
    heights, turns = aim
    rise = np.deg2rad(rng.uniform(*heights))
    aside = float(ASIDE_SD_DEG * rng.standard_normal())
    if turns is not None:
        aside = turns[0] + (turns[1] - turns[0]) * float(rng.random())
    turn = np.deg2rad(aside)
    sight = np.array([np.sin(turn) * np.cos(rise), -np.sin(rise), -np.cos(turn) * np.cos(rise)])
    body = np.array([*(np.asarray(card.body_mm) / 2), 0.0])
    centre = anchor + rng.uniform(200.0, 300.0) * sight
    rvec, tvec = look_at(centre, 0.5 * (anchor + body), float(rng.normal(0.0, 5.0)))
    return View(camera, SIZE_PX, rvec, tvec)


def _dots(site: Site) -> dict[str, Array]:
    """Return the dots that are marked: the placement's, and three ties."""
    named = {f"A/{kind}": at for kind, at in site.placement.points.items()}
    at = np.array([[x, y, -60.0] for x, y in TIES_XY.values()])
    hits = site.ear.hits(at, np.tile([0.0, 0.0, 1.0], (len(at), 1)))
    return named | {f"tie: {name}": hit for name, hit in zip(TIES_XY, hits, strict=True)}


def _seen(site: Site, dots: Mapping[str, Array], standing: Standing, view: View) -> frozenset[str]:
    centre = standing.to_ear(view.centre_card[None])[0]
    shown = is_visible(site.ear, np.array(list(dots.values())), centre)
    return frozenset(name for name, there in zip(dots, shown, strict=True) if there)


def both_ends(scene: ViewScene, photos: Sequence[str]) -> bool:
    """Return whether entry and exit are each seen in two of those photos."""
    return all(sum(end in scene.seen[p] for p in photos) > 1 for end in ENDS)


def cards_of(
    scene: ViewScene, names: Sequence[str], rng: np.random.Generator, *, known: bool = False
) -> Cards:
    """Return some of the photos with their cards found and adjusted, nothing marked yet."""
    prior = scene.prior(known=known)
    photos = []
    for name in names:
        seen, printed = scene.corners(name, rng)
        fit = fit_plane(seen, printed, prior)
        if not isinstance(fit, PlaneFit):
            raise RuntimeError(fit.sentence)
        photos.append(view_photo(name, "phone", prior, fit, (seen, printed), {}))
    cards = cards_alone(photos, print_prior(scene.scale))
    if cards is None:
        raise RuntimeError("the cards alone have no solution")
    return cards


def card_move(rng: np.random.Generator, sd_mm: float) -> Array:
    """Return a movement of the card: turn (rad) and shift (mm), (6,)."""
    return np.asarray(sd_mm * rng.standard_normal(6) * np.repeat([1.0 / LEVER_MM, 1.0], 3))


def marked(
    scene: ViewScene,
    cards: Cards,
    u_px: float,
    rng: np.random.Generator,
    *,
    dots: Dots,
    move: Array | None = None,
) -> Cards:
    """Return the photos with their dots marked, the lower ones after the card moved.

    ``dots`` says which: also the three ties, the placement's five, or its two ends alone.
    """
    out = {}
    for photo in cards.photos:
        own = np.zeros(6) if move is None or photo.name in UPPER else move
        marks = {}
        for dot in sorted(scene.seen[photo.name]):
            jitter = u_px * rng.standard_normal(2)
            if dots == "ties" or (dot in ENDS if dots == "ends" else not dot.startswith("tie")):
                x, y = scene.dot_px(photo.name, dot, own) + jitter
                marks[dot] = Mark((float(x), float(y)), u_px)
        out[photo.name] = marks
    return cards.with_marks(out)
