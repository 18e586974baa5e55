"""Scenes drawn from exactly the distributions that the program is told, and from worse ones.

What is told comes first; the truth is drawn about it as it is told: offset, tilt, focal length,
k1, print scale, corners, marks, and the visible band's error from the band's own model.  A right
propagation then holds the truth in 95 % of its 95 % intervals.  In a worse world the truth
strays further from what is told than it is told to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.band_model import BAND_MODEL
from assess.marks import RimPlane
from benchmarks.accuracy import Score, channel_of, marks_of, reading_of
from benchmarks.scenes import SIZE_PX, U_BAR_MM, U_FOCAL, Scene, Told, draw_card, seeds, stand
from calibration.frames import Array
from calibration.lens import U_K1

U_OFFSET_MM, U_TILT_DEG = RimPlane().u_offset_mm, RimPlane().u_tilt_deg
"""What the program takes where nothing else is told."""
SIGMA_PX = (0.5, 4.0)
CHANNEL_MM = (4.0, 11.0)


@dataclass(frozen=True, slots=True)
class Stray:
    """How far the truth lies from what is told: normal with sd ``size``, or within ± ``size``."""

    shape: Literal["normal", "even"]
    size: float

    def draw(self, rng: np.random.Generator, count: int) -> Array:
        """Return draws, (count,)."""
        if self.shape == "normal":
            return self.size * rng.standard_normal(count)
        return rng.uniform(-self.size, self.size, count)


@dataclass(frozen=True, slots=True)
class World:
    """How the truth strays from what is told; the defaults are as told."""

    name: str = "as told"
    offset_mm: Stray = Stray("normal", U_OFFSET_MM)
    tilt_deg: Stray = Stray("normal", U_TILT_DEG)
    """Each of the two angles."""
    marks: float = 1.0
    """The marks' true scatter over what is told."""


WORSE = (
    World("rim's tilt evenly within ±15° each way", tilt_deg=Stray("even", 15.0)),
    World("rim's tilt normal, sd 15° each way", tilt_deg=Stray("normal", 15.0)),
    World("offset evenly within ±10 mm of what is told", offset_mm=Stray("even", 10.0)),
    World("offset normal, sd 10 mm", offset_mm=Stray("normal", 10.0)),
    World("marks scatter twice as far", marks=2.0),
    World("all three, evenly spread", Stray("even", 10.0), Stray("even", 15.0), 2.0),
    World("all three, normal", Stray("normal", 10.0), Stray("normal", 15.0), 2.0),
)
"""Beside what is told: offset sd 5 mm, tilt sd 5.8 degrees, the marks' sigma."""


@dataclass(frozen=True, slots=True)
class Case:
    """A scene with a channel's true ends in it."""

    scene: Scene
    ends: Array  # (2, 3) mm, card frame: entry, exit
    normal: Array  # (3,) the rim's plane, toward the viewer
    sigma_px: float

    @property
    def length_mm(self) -> float:
        """Return the true channel."""
        return float(np.linalg.norm(self.ends[0] - self.ends[1]))


def draw_case(rng: np.random.Generator, world: World) -> Case:
    """Return what is told, and the truth drawn about it."""
    card, place = draw_card(rng)
    offset = float(rng.uniform(-10, 10))
    focal = float(rng.uniform(0.68, 0.85)) * SIZE_PX[0]
    bars = np.asarray(card.check_bar_mm) * (1 + rng.uniform(-0.012, 0.012, 2))
    told = Told(focal, offset, U_TILT_DEG, (float(bars[0]), float(bars[1])), U_OFFSET_MM)
    scale = (bars + U_BAR_MM * rng.standard_normal(2)) / np.asarray(card.check_bar_mm)
    height = offset + float(world.offset_mm.draw(rng, 1)[0])
    middle = np.array([*(np.asarray(place) + rng.uniform(-4, 4, 2)), -height])
    a, b = np.tan(np.deg2rad(world.tilt_deg.draw(rng, 2)))
    upright = np.array([b, -a, -1.0]) / np.sqrt(1 + a * a + b * b)
    camera = np.eye(3)
    camera[0, 0] = camera[1, 1] = focal * np.exp(U_FOCAL * rng.standard_normal())
    camera[:2, 2] = (np.array(SIZE_PX) - 1) / 2
    view_tilt, azimuth = rng.uniform(0, 20), rng.uniform(0, 2 * np.pi)
    distance = float(rng.uniform(150, 400))
    rise, roll = np.deg2rad([view_tilt, rng.normal(0, 5)])
    rvec, tvec = stand(card, middle, rise, azimuth, distance, roll)
    kept = rng.random(len(card.corner_ids)) > rng.uniform(0, 0.4)
    scene = Scene(
        card,
        np.eye(3),
        middle,
        middle,
        camera,
        np.array([U_K1 * rng.standard_normal(), 0, 0, 0, 0]),
        rvec,
        tvec,
        (float(scale[0]), float(scale[1])),
        tuple(np.asarray(card.corner_ids)[kept].tolist()),
        float(view_tilt),
        distance,
        told,
    )
    way = np.deg2rad(rng.uniform(-60, 60))
    axis = np.array([np.sin(way), -np.cos(way), 0.0])
    axis[2] = -(upright[:2] @ axis[:2]) / upright[2]
    half = 0.5 * rng.uniform(*CHANNEL_MM) * axis / np.linalg.norm(axis)
    ends = np.array([middle + half, middle - half])
    return Case(scene, ends, upright, float(rng.uniform(*SIGMA_PX)))


def edges_of(case: Case, rng: np.random.Generator) -> Array:
    """Return the ends moved along the axis by errors drawn from the band's model, (2, 3) mm."""
    top, bottom = case.ends
    axis, sight = (top - bottom) / case.length_mm, case.scene.centre_card - (top + bottom) / 2
    rise = np.rad2deg(np.arctan2(sight @ axis, sight @ case.normal))
    spread = rng.multivariate_normal(np.zeros(6), np.asarray(BAND_MODEL.scale))
    heavy = np.sqrt(BAND_MODEL.dof / rng.chisquare(BAND_MODEL.dof))
    curves = (np.asarray(BAND_MODEL.mean) + spread * heavy).reshape(2, 3)
    curves[:, 0] += rng.multivariate_normal(np.zeros(2), np.asarray(BAND_MODEL.within))
    outward = curves @ np.array([1.0, rise / 10.0, (rise / 10.0) ** 2])
    return np.asarray(case.ends + outward[:, None] * np.array([axis, -axis]))


def score_case(case: Case, world: World, rng: np.random.Generator, kind: str, seed: int) -> Score:
    """Return how the program does on one case."""
    scene = case.scene
    places = case.ends if kind == "ends" else edges_of(case, rng)
    exact = scene.pixels(places)
    marked = exact + world.marks * case.sigma_px * rng.standard_normal(exact.shape)
    corners_px = scene.corners_px(rng)
    reading = reading_of(scene, marked, (corners_px, np.asarray(scene.corner_ids)))
    marks = marks_of(scene, marked, case.sigma_px, kind)
    return Score(
        "",
        kind,
        case.sigma_px,
        True,
        scene.view_tilt_deg,
        scene.distance_mm,
        case.length_mm,
        channel_of(marks, reading, seed),
        float(np.linalg.norm(marked[0] - marked[1])) / scene.plain_scale(),
    )


def run_stated(count: int, world: World, kind: str, seed: int) -> list[Score]:
    """Return the scores of ``count`` scenes of a world, marked in one way."""
    return [
        score_case(draw_case(rng, world), world, rng, kind, i + 1)
        for i, rng in enumerate(seeds(seed, count))
    ]
