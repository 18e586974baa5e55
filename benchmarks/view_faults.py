"""What goes wrong with several photos, on purpose: whether it is said, solved or covered.

The card moves by a set amount between the upper and the lower photos; two photos are exchanged,
one is of the other ear, one was marked in its mirrored picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assess.space import in_space, placement_in_space
from benchmarks.ears import EARS
from benchmarks.scenes import SIZE_PX, seeds
from benchmarks.view_scenes import ASKED, SETS, Dots, ViewScene, cards_of, marked
from benchmarks.views import DRAWS, SNAPPED_PX, Length, _length, scene_with_both_ends, truths_mm
from calibration.cards_alone import Cards
from calibration.draws import Draws
from calibration.frames import Array
from calibration.view_photo import Mark
from calibration.views import ViewsRefused, dots_in_space

MOVES_MM = (0.5, 1.0, 2.0)
U_SHIFT_MM = 0.5
FIVE = SETS["five"]


@dataclass(frozen=True, slots=True)
class MoveScore:
    """The card moved by ``move_mm`` along an axis, told as movable by ``told_mm``."""

    scene: int
    move_mm: float
    axis: str
    dots: Dots
    u_px: float
    told_mm: float
    channel: Length | None
    caught: bool
    """Said, or refused."""


def run_moves(scenes: int, seed: int, moves_mm: tuple[float, ...] = MOVES_MM) -> list[MoveScore]:
    """Return the scores of cards that moved by a set amount."""
    names, scores = list(EARS), list[MoveScore]()
    for i, rng in enumerate(seeds(seed, scenes)):
        scene, _ = scene_with_both_ends(names[i % len(names)], rng, aims=ASKED)
        if scene is None:
            continue
        cards = cards_of(scene, FIVE, rng)
        for move_mm in moves_mm:
            for k, axis in enumerate("xyz"):
                move = np.zeros(6)
                move[3 + k] = move_mm * rng.choice([-1.0, 1.0])
                for dots, u_px, told in _told(move_mm):
                    photos = marked(scene, cards, u_px, rng, dots=dots, move=move)
                    channel, caught = _outcome(scene, photos, told, i + 1)
                    scores.append(MoveScore(i, move_mm, axis, dots, u_px, told, channel, caught))
    return scores


def move_kind(score: MoveScore) -> tuple[float, str, float, float]:
    """Return which row of the table a score belongs to."""
    return score.move_mm, score.dots, score.told_mm, score.u_px


def strays(scores: Sequence[MoveScore]) -> float:
    """Return how far a row's coverage strays by chance, %: its scenes are what is drawn anew.

    A scene's pushes share its card.  The rows' mean, as a standard deviation.
    """
    spread = []
    for kind in {move_kind(s) for s in scores}:
        by_scene: dict[int, list[bool]] = {}
        for score in scores:
            if move_kind(score) == kind and score.channel is not None:
                by_scene.setdefault(score.scene, []).append(score.channel.inside)
        shares = [share(own) for own in by_scene.values()]
        spread.append(np.var(shares) / len(shares))
    return float(np.sqrt(np.mean(spread)))


def _told(move_mm: float) -> Iterator[tuple[Dots, float, float]]:
    """Yield which dots, the u of a mark, and what the card's movement is told to be."""
    for u_px in (SNAPPED_PX, 1.0, 2.0):
        yield "ties", u_px, U_SHIFT_MM
    yield "ties", SNAPPED_PX, 0.0
    for told_mm in sorted({U_SHIFT_MM, move_mm}):
        yield "placement", SNAPPED_PX, told_mm
        yield "ends", SNAPPED_PX, told_mm


def _outcome(
    scene: ViewScene, cards: Cards, told_mm: float, seed: int
) -> tuple[Length | None, bool]:
    found = dots_in_space(cards, told_mm)
    if isinstance(found, ViewsRefused):
        return None, True
    missed = any(point.fault == "rays_miss" for point in found.refused)
    said = bool(found.said) or found.card_moved or missed
    axis = placement_in_space("A", in_space(found, Draws(seed, DRAWS)), "left").axis
    if axis is None:
        return None, said
    return _length(axis.channel_mm, truths_mm(scene)[0]), said


@dataclass(frozen=True, slots=True)
class FaultScore:
    """A fault among five photos: whether anything was said, and the photos rightly named."""

    fault: str
    ties: bool
    u_px: float
    said: bool
    named: bool


Spoiled = tuple[Cards, set[str]]
"""Photos with something the matter, and the names of those concerned."""


def swapped(_scene: ViewScene, cards: Cards, rng: np.random.Generator) -> Spoiled:
    """Return the photos with the marks of two of them exchanged."""
    i, j = (int(n) for n in rng.choice(len(cards.photos), 2, replace=False))
    one, other = cards.photos[i], cards.photos[j]
    return _with(cards, {one.name: other.marks, other.name: one.marks})


def other_ear(scene: ViewScene, cards: Cards, rng: np.random.Generator) -> Spoiled:
    """Return the photos with one of them taken of the other ear, dotted likewise."""
    photo, own = cards.photos[int(rng.integers(len(cards.photos)))], scene.standing
    turn = np.diag([-1.0, 1.0, 1.0])
    width = np.array([own.card.body_mm[0], 0.0, 0.0])
    at = turn @ own.anchor_card + width + rng.uniform(-4.0, 4.0, 3)
    there = replace(own, right_ear=True, anchor_card=at, rotation=turn @ own.rotation @ turn)
    marks = {}
    for name, mark in photo.marks.items():
        exact = scene.views[photo.name].pixels(there.to_card(scene.dots[name][None]))[0]
        x, y = exact + mark.u_px * rng.standard_normal(2)
        marks[name] = Mark((float(x), float(y)), mark.u_px)
    return _with(cards, {photo.name: marks})


def flipped(_scene: ViewScene, cards: Cards, rng: np.random.Generator) -> Spoiled:
    """Return the photos with one of them marked in its mirrored picture."""
    photo = cards.photos[int(rng.integers(len(cards.photos)))]
    marks = {
        name: replace(mark, at_px=(SIZE_PX[0] - 1 - mark.at_px[0], mark.at_px[1]))
        for name, mark in photo.marks.items()
    }
    return _with(cards, {photo.name: marks})


def _with(cards: Cards, marks: Mapping[str, Mapping[str, Mark]]) -> Spoiled:
    whole = {photo.name: marks.get(photo.name, photo.marks) for photo in cards.photos}
    return cards.with_marks(whole), set(marks)


FAULTS: dict[str, Callable[[ViewScene, Cards, np.random.Generator], Spoiled]] = {
    "two photos exchanged": swapped,
    "one of the other ear": other_ear,
    "one marked mirrored": flipped,
}


def run_faults(scenes: int, seed: int) -> list[FaultScore]:
    """Return the scores of sets with something the matter."""
    names, scores = list(EARS), list[FaultScore]()
    for i, rng in enumerate(seeds(seed, scenes)):
        scene, _ = scene_with_both_ends(names[i % len(names)], rng, aims=ASKED)
        if scene is None:
            continue
        cards = cards_of(scene, FIVE, rng)
        for fault, spoil in FAULTS.items():
            for ties in (True, False):
                for u_px in (SNAPPED_PX, 2.0):
                    dots: Dots = "ties" if ties else "placement"
                    right = marked(scene, cards, u_px, rng, dots=dots)
                    wrong, which = spoil(scene, right, rng)
                    said, names_ = _said(wrong)
                    scores.append(FaultScore(fault, ties, u_px, said, which <= names_))
    return scores


def _said(cards: Cards) -> tuple[bool, set[str]]:
    """Return whether a fault was said, and of which photos."""
    found = dots_in_space(cards, U_SHIFT_MM)
    if isinstance(found, ViewsRefused):
        named = set(found.photos) if found.why in {"odd", "swapped"} else set()
        return True, named
    missed = any(point.fault == "rays_miss" for point in found.refused)
    odd = {name for said in found.said if said.fault == "odd" for name in said.photos}
    return bool(odd) or missed or found.card_moved, odd


def share(scores: list[bool]) -> float:
    """Return the share of those that hold, in %; NaN of none."""
    return 100.0 * float(np.mean(scores)) if scores else float("nan")


def errors_mm(lengths: list[Length]) -> Array:
    """Return the errors of lengths, (N,) mm."""
    return np.array([length.error_mm for length in lengths])
