"""The four sample sets: which ear, card, side and skin, and where the phone goes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import cv2
import numpy as np

from assess.view_set import VIEWS, Side
from calibration.card import FRAME, POCKET, Card
from calibration.frames import Array
from calibration.lens import DIAGONAL_35MM, Camera
from sample_images.ears import Ear, build_ear
from sample_images.placement import Placement, place
from sample_images.scene import Look, Spot, Standing, View, look_at

SIZE_PX = (2000, 1500)
FOCAL_35MM = 37
U_OFFSET_MM = 2.0
TIES_XY = {"antihelix": (6.4, 3.5), "lobe": (-3.5, 22.5), "helix behind": (13.6, -1.0)}
"""Three spare dots nearly in one line."""
SPREAD_XY = {"antihelix": (6.4, 3.5), "lobe": (-3.5, 22.5), "helix front": (-12.5, -14.5)}
"""Three that span a triangle, each seen in all five views: the last is 25 mm off the line through
the others."""

Sights = Mapping[str, tuple[float, float, float]]
"""Name -> elevation (deg, from above), turn about the vertical (deg), distance (mm)."""
STRAIGHT: Sights = {
    "square-on": (3.0, 1.5, 262.0),
    "above-1": (19.0, -3.0, 258.0),
    "above-2": (33.0, 4.0, 266.0),
    "below-1": (-19.0, 2.0, 260.0),
    "below-2": (-32.0, -5.0, 268.0),
}
"""Straight up and down, as somebody takes them who doesn't follow the guide."""
HELD: Sights = {
    "square-on": (3.0, 1.5, 262.0),
    "above": (-2.0, 3.0, 258.0),
    "behind": (3.0, -2.0, 266.0),
    "front": (-3.0, 2.0, 260.0),
    "below": (2.0, -2.0, 268.0),
}
"""How a hand holds the phone at each view that is asked for: deg higher than its middle, deg
further to the right, and how far away (mm)."""


def asked_sights(side: Side) -> Sights:
    """Return the five views that are asked for of that ear, as a hand takes them."""
    sights: dict[str, tuple[float, float, float]] = {}
    for view in VIEWS:
        (rise, turn), (higher, right, distance_mm) = view.sight_deg(side), HELD[view.name]
        sights[view.name] = (rise + higher, turn + right, distance_mm)
    return sights


@dataclass(frozen=True)
class SampleSet:
    """One ear with its card, photographed five times."""

    name: str
    ear: Ear
    placements: dict[str, Placement]
    standing: Standing
    look: Look
    check_bar_mm: tuple[float, float]
    offset_read_mm: float
    focal_px: float
    k1: float
    sights: Sights
    ties_xy: Mapping[str, tuple[float, float]]

    @property
    def side(self) -> Side:
        """Return which ear it is."""
        return "right" if self.standing.right_ear else "left"

    def ties(self) -> dict[str, Array]:
        """Return the spare dots on the ear, ear frame mm."""
        at = np.array([[x, y, -60.0] for x, y in self.ties_xy.values()])
        hits = self.ear.hits(at, np.tile([0.0, 0.0, 1.0], (len(at), 1)))
        return dict(zip(self.ties_xy, hits, strict=True))

    def dots(self) -> list[Spot]:
        """Return every pen dot."""
        named = [
            p.points[kind]
            for p in self.placements.values()
            for kind in ("entry", "exit", "crest", "floor")
        ]
        radius = self.look.dot_mm / 2
        return [Spot(tuple(at), radius) for at in [*named, *self.ties().values()]]

    def view(self, name: str) -> View:
        """Return the phone's place of that name."""
        rng = np.random.default_rng([self.look.seed, list(self.sights).index(name)])
        return self.phone_at(*self.sights[name], float(rng.normal(0.0, 2.0)))

    def phone_at(
        self, elevation_deg: float, turn_deg: float, distance_mm: float, roll_deg: float
    ) -> View:
        """Return a phone that looks at the ear and its card from there."""
        rise, aside = np.deg2rad([elevation_deg, turn_deg])
        at = self.standing.anchor_card
        sight = np.array(
            [np.sin(aside) * np.cos(rise), -np.sin(rise), -np.cos(aside) * np.cos(rise)]
        )
        centre = at + distance_mm * sight
        body = np.array([*(np.asarray(self.standing.card.body_mm) / 2), 0.0])
        rvec, tvec = look_at(centre, 0.5 * (at + body), roll_deg)
        camera = Camera(
            self.focal_px,
            self.focal_px,
            (SIZE_PX[0] - 1) / 2 + 4.0,
            (SIZE_PX[1] - 1) / 2 - 3.0,
            (self.k1, 0.0, 0.0, 0.0, 0.0),
        )
        return View(camera, SIZE_PX, rvec, tvec)


def nominal_focal_px() -> float:
    """Return what EXIF's 35 mm equivalent says of the focal length, px."""
    return FOCAL_35MM / DIAGONAL_35MM * float(np.hypot(*SIZE_PX))


def _set(
    name: str,
    card: Card,
    at: tuple[float, float, float],
    positions: dict[str, float],
    look: Look,
    *,
    right: bool,
    tilt_deg: tuple[float, float],
    as_asked: bool = False,
) -> SampleSet:
    ear = build_ear(name)
    placed = {label: place(ear, s) for label, s in positions.items()}
    placements = {label: p for label, p in placed.items() if p is not None}
    if len(placements) != len(positions):
        raise RuntimeError(f"a placement of {name!r} does not come out under the fold")
    ends = np.array([[p.entry, p.exit] for p in placements.values()])
    rng = np.random.default_rng(look.seed)
    turn, _ = cv2.Rodrigues(np.deg2rad([*tilt_deg, 0.0]))
    scale = (1.0 + rng.uniform(-0.006, 0.006), 1.0 + rng.uniform(-0.006, 0.006))
    standing = Standing(
        card, scale, np.asarray(turn), ends.mean(axis=(0, 1)), np.array(at), right_ear=right
    )
    across, down = (
        round(bar * s + rng.normal(0.0, 0.03), 2)
        for bar, s in zip(card.check_bar_mm, scale, strict=True)
    )
    return SampleSet(
        name,
        ear,
        placements,
        standing,
        look,
        (across, down),
        round(-at[2] + rng.normal(0.0, 1.2), 1),
        nominal_focal_px() * (1.0 + rng.normal(0.0, 0.015)),
        float(rng.uniform(-0.04, 0.04)),
        asked_sights("right" if right else "left") if as_asked else STRAIGHT,
        SPREAD_XY if as_asked else TIES_XY,
    )


def sample_set(name: str) -> SampleSet:
    """Return the sample set of that name."""
    if name == "pronounced":
        look = Look(tone="light", seed=41)
        return _set(
            name,
            FRAME,
            (75.0, 57.5, -3.0),
            {"A": 0.45},
            look,
            right=False,
            tilt_deg=(3.0, -2.0),
            as_asked=True,
        )
    if name == "middling":
        look = Look(tone="olive", hair=(0.03, 0.02, 0.016), seed=42)
        place_at = (-26.0, 14.0, 2.0)
        return _set(name, POCKET, place_at, {"A": 0.3}, look, right=True, tilt_deg=(-4.0, 3.0))
    if name == "flat":
        look = Look(tone="brown", hair=(0.02, 0.014, 0.012), exposure=1.25, seed=43)
        place_at = (112.0, 12.0, 1.0)
        return _set(name, POCKET, place_at, {"A": 0.3}, look, right=False, tilt_deg=(2.0, 4.0))
    if name == "three":
        look = Look(tone="dark", hair=(0.012, 0.01, 0.009), exposure=1.4, seed=44)
        place_at = (70.0, 58.0, -4.0)
        spots = {"front": 0.05, "middle": 0.38, "back": 0.72}
        return _set(name, FRAME, place_at, spots, look, right=True, tilt_deg=(-2.0, -3.0))
    raise KeyError(name)


SAMPLES = ("pronounced", "middling", "flat", "three")
