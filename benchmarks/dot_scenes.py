"""Close crops of skin with a pen dot, or with what is none: freckle, ghost, smear, hair, shadow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from benchmarks.ears import EARS
from benchmarks.marking_scenes import BACKGROUNDS, cropped, random_look, standing_at, view_from
from calibration.frames import Array, Image
from sample_images.curves import UPPER_RIM
from sample_images.ears import Ear, build_ear
from sample_images.render import render
from sample_images.scene import Spot, Standing, View
from sample_images.shape import section
from sample_images.visible import disc_seen, least_width_px

INKS = {
    "violet": (0.669, 0.788, 0.458),
    "black": (0.86, 0.87, 0.86),
    "blue": (0.82, 0.66, 0.35),
    "green": (0.80, 0.50, 0.62),
}
"""What the pen takes of red, green and blue."""

FRECKLE = (0.10, 0.20, 0.30)
GHOST = 0.22
"""What is left of a wiped dot, as a share of its ink."""

DOTS = ("square-on", "foreshortened", "edge", "pair")
NOT_DOTS = ("skin", "freckle", "hair", "shadow", "ghost", "smear")
FOCAL_PX = {"3 MP": 1500.0, "12 MP": 3000.0}
"""Of a phone's photo made smaller on its way, and of one as it is taken, times 0.9 to 1.1."""
NEAR_SD_MM = 0.5
REACH_MM = 6.0
EDGE_LEAST = 0.45
"""A dot on the edge counts if this share of it is seen."""


@dataclass(frozen=True, eq=False)
class DotScene:
    """A crop with a tap.  ``dots_px``, (K, 2), holds the true places of the dots in it.

    They are where the dots' centres are seen, px of the crop, the one first near which the tap
    was drawn; none where there is no dot.  ``seen_share`` is how much of that one the camera
    sees, ``width_px`` how wide that is where it is narrowest.  ``photo`` is a size of FOCAL_PX.
    """

    kind: str
    picture: Image
    px_per_mm: float
    near_px: Array
    dots_px: Array
    diameter_mm: float
    seen_share: float
    width_px: float
    photo: str

    @property
    def dot_px(self) -> Array | None:
        """Return the place of the dot nearest to the tap, (2,) px, None where there is none."""
        if not len(self.dots_px):
            return None
        away = np.hypot(*(self.dots_px - self.near_px).T)
        return np.asarray(self.dots_px[int(np.argmin(away))])


@dataclass(frozen=True, eq=False)
class _Stage:
    ear: Ear
    standing: Standing
    view: View
    px_per_mm: float
    t: float
    photo: str

    @property
    def centre(self) -> Array:
        return np.asarray(self.standing.to_ear(self.view.centre_card[None])[0])

    def pixels(self, at: Array) -> Array:
        return np.asarray(self.view.pixels(self.standing.to_card(np.atleast_2d(at))))

    def seen_from_front(self, xy: Array, z: float = 4.0) -> Array:
        """Return the first place the ray through ``xy`` at depth ``z`` meets, (3,), or NaN."""
        target = np.array([xy[0], xy[1], z])
        ray = target - self.centre
        return np.asarray(self.ear.hits(self.centre[None], (ray / np.linalg.norm(ray))[None])[0])


def _stage(rng: np.random.Generator, index: int) -> _Stage:
    ear = build_ear(EARS[index % len(EARS)])
    t = float(rng.uniform(*UPPER_RIM))
    at, _ = ear.line.place(t)
    standing = standing_at(ear, np.array([*at, 2.0]), rng)
    distance = float(rng.uniform(150.0, 400.0))
    photo = str(rng.choice(list(FOCAL_PX)))
    focal = FOCAL_PX[photo] * float(rng.uniform(0.9, 1.1))
    view = view_from(standing, rng, focal, distance)
    return _Stage(ear, standing, view, focal / distance, t, photo)


def _across(stage: _Stage, share: float) -> Array:
    """Return the place seen at ``share`` of the rim's half width outward (1 its edge)."""
    at, outward = stage.ear.line.place(stage.t)
    half = float(section(stage.ear.parameters, np.array([stage.t]))[0][0])
    return stage.seen_from_front(at + share * half * outward)


def _to_the_edge(stage: _Stage) -> tuple[Array, Array]:
    """Return shares outward up to the last seen on the rim, (N,), and the places, (N, 3)."""
    shares = np.arange(0.5, 1.6, 0.01)
    places = np.array([_across(stage, float(s)) for s in shares])
    depth = np.nan_to_num(places[:, 2], nan=1e3)
    jump = np.flatnonzero(np.diff(depth) > 0.6)
    last = int(jump[0]) if len(jump) else len(places) // 2
    return shares[: last + 1], places[: last + 1]


def _near_the_edge(stage: _Stage, way_mm: float) -> Array:
    """Return the place so far over the skin before the last that is seen outward, (3,)."""
    shares, places = _to_the_edge(stage)
    steps = np.linalg.norm(np.diff(places, axis=0), axis=1)
    ways = np.concatenate([[0.0], np.cumsum(steps[::-1])])
    return _across(stage, float(np.interp(way_mm, ways, shares[::-1])))


def _seen(stage: _Stage, at: Array, radius: float, rng: np.random.Generator) -> tuple[float, float]:
    """Return which share of the skin within ``radius`` of ``at`` is seen, and its width, px.

    The width is across what is seen, where it is narrowest.
    """
    share, seen = disc_seen(stage.ear, at, radius, stage.centre, rng)
    width = least_width_px(stage.pixels(seen)) if len(seen) else 0.0
    return (share, width) if width > 0.0 else (0.0, 0.0)


def _place(stage: _Stage, kind: str, rng: np.random.Generator) -> Array:
    if kind in {"square-on", "pair", "skin", "freckle", "ghost", "smear"}:
        return _across(stage, float(rng.uniform(-0.4, 0.5)))
    if kind == "foreshortened":
        share = float(rng.uniform(0.6, 0.9))
        past = share > _to_the_edge(stage)[0][-1]  # what is seen there is not the rim
        return np.full(3, np.nan) if past else _across(stage, share)
    if kind == "shadow":
        return _across(stage, float(rng.uniform(-1.5, -0.9)))
    if kind == "hair":
        _, outward = stage.ear.line.place(stage.t)
        away = float(rng.uniform(1.5, 3.5)) * outward
        return np.asarray(_near_the_edge(stage, 0.0) + np.array([*away, 0.0]))
    return _near_the_edge(stage, float(rng.uniform(0.1, 0.5)))


def what_is_behind(index: int, kind: str) -> str:
    """Return what lies behind the rim of a scene."""
    return "hair" if kind == "hair" else BACKGROUNDS[index % len(BACKGROUNDS)]


def dot_scene(seed: int, index: int, kind: str) -> DotScene | None:
    """Return scene ``index`` of a kind; None where the dot is not seen enough."""
    rng = np.random.default_rng([seed, index, [*DOTS, *NOT_DOTS].index(kind)])
    stage = _stage(rng, index)
    at = _place(stage, kind, rng)
    if not np.isfinite(at).all():
        return None
    diameter = float(rng.uniform(0.6, 1.5))
    ink = np.array(INKS[list(INKS)[int(rng.integers(len(INKS)))]])
    spots = _spots(stage, kind, at, diameter / 2, ink, rng)
    share, width = 0.0, 0.0
    if kind in DOTS:
        share, width = _seen(stage, at, diameter / 2, rng)
        if share < EDGE_LEAST:
            return None
    centre = stage.pixels(at)[0]
    reach = REACH_MM * stage.px_per_mm
    low = np.floor(centre - reach)
    picture = render(
        stage.ear,
        stage.standing,
        cropped(stage.view, low, np.ceil(centre + reach)),
        random_look(rng, what_is_behind(index, kind), 500 + index),
        spots,
    )
    near = centre - low + NEAR_SD_MM * stage.px_per_mm * np.clip(rng.standard_normal(2), -2, 2)
    places = np.array([spot.at for spot in spots if kind in DOTS]).reshape(-1, 3)
    dots = stage.pixels(places) - low if len(places) else np.zeros((0, 2))
    return DotScene(kind, picture, stage.px_per_mm, near, dots, diameter, share, width, stage.photo)


def _spots(
    stage: _Stage, kind: str, at: Array, radius: float, ink: Array, rng: np.random.Generator
) -> list[Spot]:
    where = (float(at[0]), float(at[1]), float(at[2]))

    def spot(place: tuple[float, float, float], absorbs: Array, **more: object) -> Spot:
        r, g, b = (float(v) for v in absorbs)
        return Spot(place, radius, (r, g, b), **more)  # type: ignore[arg-type]

    if kind in {"square-on", "foreshortened", "edge"}:
        return [spot(where, ink)]
    if kind == "pair":
        turn = rng.uniform(0, 2 * np.pi)
        gap = 2 * radius + rng.uniform(0.4, 1.5)
        to = at[:2] + gap * np.array([np.cos(turn), np.sin(turn)])
        other = stage.seen_from_front(to, float(at[2]))
        second = [spot(tuple(other.tolist()), ink)] if np.isfinite(other).all() else []
        return [spot(where, ink), *second]
    if kind == "freckle":
        return [spot(where, np.array(FRECKLE) * rng.uniform(0.7, 1.5), soft_mm=0.3)]
    if kind == "ghost":
        return [spot(where, GHOST * rng.uniform(0.5, 1.2) * ink, soft_mm=0.3)]
    if kind == "smear":
        turn = rng.uniform(0, 2 * np.pi)
        way = rng.uniform(1.8, 3.0) * np.array([np.cos(turn), np.sin(turn), 0.0])
        end = stage.seen_from_front(at[:2] + way[:2], float(at[2]))
        if np.isfinite(end).all() and np.linalg.norm(end - at) < 4.0:
            way = end - at
        return [spot(where, ink * 0.8, smear_mm=tuple(way.tolist()))]
    return []
