"""Channel and relief from several views: ``python -m benchmarks.accuracy --views``.

Scenes by geometry over the parameter ears, what each camera sees cast against the mesh; writes
``benchmarks/views.md``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from assess.space import in_space, placement_in_space
from benchmarks.ears import EARS
from benchmarks.scenes import seeds
from benchmarks.view_scenes import (
    ASKED,
    FANNED,
    SETS,
    STRAIGHT,
    Aims,
    Dots,
    ViewScene,
    both_ends,
    card_move,
    cards_of,
    draw_view_scene,
    marked,
)
from calibration.cards_alone import Cards
from calibration.draws import Draws
from calibration.frames import Array
from calibration.quantity import Quantity
from calibration.views import ViewsOutcome, ViewsSolved, dots_in_space

SNAPPED_PX = 0.3
DOTS: tuple[Dots, ...] = ("ends", "placement", "ties")
MOVED_MM = 0.7
DRAWS = 4_000
MOST_DRAWS = 25
"""Placements and photos drawn on an ear until both ends are seen twice."""
SEED = 20261128


@dataclass(frozen=True, slots=True)
class Setting:
    """How a scene is photographed, marked and told."""

    photos: str  # of SETS
    fanned: bool
    u_px: float
    card: str  # "fixed", or "moved" with these dots
    dots: Dots = "placement"
    known_lens: bool = False


@dataclass(frozen=True, slots=True)
class Length:
    """A length's error and its stated 95 % interval, mm."""

    error_mm: float
    half_mm: float
    inside: bool


@dataclass(frozen=True, slots=True)
class ViewScore:
    """One scene under one setting; None where a length wasn't measured."""

    ear: str
    setting: Setting
    channel: Length | None
    relief: Length | None
    refused: str
    """Why, where nothing was measured; the points that were refused for their rays, else."""


def settings(*, fanned: bool) -> Iterator[Setting]:
    """Yield the settings under which every scene is scored."""
    for u_px in (SNAPPED_PX, 1.0, 2.0, 3.0):
        yield Setting("five", fanned, u_px, "fixed")
        for dots in DOTS:
            yield Setting("five", fanned, u_px, "moved", dots)
    for u_px in (SNAPPED_PX, 1.0):
        yield Setting("five", fanned, u_px, "fixed", known_lens=True)
        for photos in ("four", "three", "two"):
            yield Setting(photos, fanned, u_px, "fixed")


def asked_settings() -> Iterator[Setting]:
    """Yield the settings under which sets are scored that were taken as the guide asks."""
    for u_px in (SNAPPED_PX, 1.0, 2.0, 3.0):
        yield Setting("five", True, u_px, "fixed")
        yield Setting("five", True, u_px, "moved", "ties")


def scene_with_both_ends(
    name: str,
    rng: np.random.Generator,
    *,
    aims: Aims,
) -> tuple[ViewScene | None, int]:
    """Return a scene in which each end is seen twice, if one comes up, and how many were drawn."""
    for tries in range(1, MOST_DRAWS + 1):
        scene = draw_view_scene(name, rng, aims=aims)
        if both_ends(scene, SETS["five"]):
            return scene, tries
    return None, MOST_DRAWS


def truths_mm(scene: ViewScene) -> tuple[float, float]:
    """Return the channel and the relief along the card's normal."""
    placement = scene.site.placement
    crest, floor = scene.standing.to_card(np.array([placement.crest, placement.floor]))
    return placement.channel_mm, float(floor[2] - crest[2])


def score(
    scene: ViewScene, cards: Cards, setting: Setting, u_shift_mm: float, seed: int
) -> ViewScore:
    """Return how the program does on one set of marked photos."""
    return score_found(scene, dots_in_space(cards, u_shift_mm), setting, seed)


def score_found(scene: ViewScene, found: ViewsOutcome, setting: Setting, seed: int) -> ViewScore:
    """Return how the program does, by what it makes of the photos."""
    name = scene.site.name
    if not isinstance(found, ViewsSolved):
        return ViewScore(name, setting, None, None, found.why)
    placement = placement_in_space("A", in_space(found, Draws(seed, DRAWS)), "left")
    channel, relief = truths_mm(scene)
    missed = [r.name for r in found.refused if r.fault == "rays_miss"]
    missed += [name for said in found.said for name in said.photos]
    return ViewScore(
        name,
        setting,
        None if placement.axis is None else _length(placement.axis.channel_mm, channel),
        None if placement.relief_mm is None else _length(placement.relief_mm, relief),
        ", ".join(missed),
    )


def _length(draws: Array, truth_mm: float) -> Length:
    stated = Quantity.from_draws(draws, "mm")
    inside = stated.low <= truth_mm <= stated.high
    return Length(stated.value - truth_mm, (stated.high - stated.low) / 2, inside)


@dataclass(frozen=True, slots=True)
class Run:
    """All scores, and how many sets of photos were drawn for how many scenes."""

    scores: list[ViewScore]
    drawn: int
    scenes: int


def run_views(tries: int, seed: int = SEED) -> Run:
    """Return the scores of up to ``tries`` scenes, by turns straight and fanned."""
    names, scores = list(EARS), list[ViewScore]()
    drawn = scenes = 0
    for i, rng in enumerate(seeds(seed, tries)):
        fanned = bool(i // len(names) % 2)
        scene, count = scene_with_both_ends(
            names[i % len(names)], rng, aims=FANNED if fanned else STRAIGHT
        )
        drawn += count
        if scene is not None:
            scenes += 1
            scores += _scene_scores(scene, rng, i, settings(fanned=fanned))
    return Run(scores, drawn, scenes)


def run_asked(tries: int, seed: int = SEED + 9) -> Run:
    """Return the scores of up to ``tries`` scenes taken as the guide asks."""
    names, scores = list(EARS), list[ViewScore]()
    drawn = scenes = 0
    for i, rng in enumerate(seeds(seed, tries)):
        scene, count = scene_with_both_ends(names[i % len(names)], rng, aims=ASKED)
        drawn += count
        if scene is not None:
            scenes += 1
            scores += _scene_scores(scene, rng, i, asked_settings())
    return Run(scores, drawn, scenes)


def _scene_scores(
    scene: ViewScene, rng: np.random.Generator, index: int, wanted: Iterator[Setting]
) -> Iterator[ViewScore]:
    corner_seed, mark_seed = (int(n) for n in rng.integers(2**31, size=2))
    ready: dict[tuple[str, bool], Cards] = {}
    for setting in wanted:
        key = setting.photos, setting.known_lens
        if key not in ready:  # the same corners, however the lens is told
            found = np.random.default_rng(corner_seed)
            ready[key] = cards_of(scene, SETS[setting.photos], found, known=setting.known_lens)
        hand = np.random.default_rng([mark_seed, round(10 * setting.u_px)])
        move = None if setting.card == "fixed" else card_move(hand, MOVED_MM)
        photos = marked(scene, ready[key], setting.u_px, hand, dots=setting.dots, move=move)
        yield score(scene, photos, setting, 0.0 if move is None else MOVED_MM, index + 1)
