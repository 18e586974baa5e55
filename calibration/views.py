"""Several photos of pen dots beside one card -> the dots in space, or why not.

Each photo's camera comes from its card; photos of one phone share a lens; the card may have
moved a little between photos, and dots that several photos see tell how.  Everything is solved
at once (`adjust`), then tested (`view_checks`).  Outcomes that are to be expected are values.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from calibration.adjust import Adjusted, adjust, cost_of
from calibration.card_moved import moved_further
from calibration.cards_alone import Cards, cards_alone
from calibration.frames import Array
from calibration.joint_problem import PrintPrior, Problem
from calibration.rays import nearest_places, widest_angle_deg
from calibration.space_points import SpacePoints, points_of
from calibration.view_checks import CLEAR, LOOSE_MM, Explained, explain, fits, point_chances
from calibration.view_photo import ViewPhoto

LEAST_ANGLE_DEG, NARROW_DEG = 5.0, 15.0
"""Rays that meet under less are refused, under the second flagged."""
ROUNDS = 4
LEAST_STEPS = 12
"""Marks that fit need fewer steps to solve; what takes more contradicts itself."""

PointFault = Literal["one_view", "narrow", "rays_miss"]
PhotoFault = Literal["odd", "swapped", "lens"]
Refusal = Literal["one_photo", "no_points", "cards", "swapped", "odd", "misfit"]


@dataclass(frozen=True, slots=True)
class PointRefused:
    """A dot that isn't triangulated: why, the photos that show it, the widest ray angle."""

    name: str
    fault: PointFault
    photos: tuple[str, ...]
    angle_deg: float | None = None


@dataclass(frozen=True, slots=True)
class PhotoSaid:
    """Something the matter with photos, by name."""

    fault: PhotoFault
    photos: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CardMove:
    """How the card stood in a photo against its mean place: shift and its u, (3,) mm each."""

    photo: str
    shift_mm: Array
    u_mm: Array


@dataclass(frozen=True, slots=True)
class ViewsRefused:
    """No dot in space: why, the photos concerned, and the dots that were refused by name."""

    why: Refusal
    photos: tuple[str, ...]
    refused: tuple[PointRefused, ...]


@dataclass(frozen=True)
class ViewsSolved:
    """Dots in space.

    ``points`` stand in the card's mean place; ``angle_deg`` is the widest angle between a dot's
    rays, ``seen_in`` the photos that show it.  ``card_moved`` says that the dots showed the card
    to have moved more than told; ``moves`` says how, where it may have moved at all.
    """

    found: Adjusted
    points: SpacePoints
    angle_deg: Mapping[str, float]
    seen_in: Mapping[str, tuple[str, ...]]
    refused: tuple[PointRefused, ...]
    said: tuple[PhotoSaid, ...]
    card_moved: bool

    @property
    def narrow(self) -> tuple[str, ...]:
        """Return the points whose rays meet under a narrow angle."""
        return tuple(name for name, angle in self.angle_deg.items() if angle < NARROW_DEG)

    @property
    def moves(self) -> tuple[CardMove, ...]:
        """Return how the card stood in each photo; none where it was told to be fixed."""
        problem = self.found.problem
        if not problem.moving:
            return ()
        u = np.sqrt(np.diag(self.found.covariance))
        columns = [problem.move_columns(i)[3:] for i in range(len(problem.photos))]
        return tuple(
            CardMove(photo.name, self.found.x[own], u[own])
            for photo, own in zip(problem.photos, columns, strict=True)
        )

    def in_photo(self, name: str) -> SpacePoints:
        """Return the points in the card's frame as the card stood in that photo."""
        names = [photo.name for photo in self.found.problem.photos]
        return points_of(self.found, names.index(name))


ViewsOutcome = ViewsSolved | ViewsRefused


def measure_views(
    photos: Sequence[ViewPhoto], u_shift_mm: float, printed: PrintPrior
) -> ViewsOutcome:
    """Return the pen dots of several photos in space.

    Parameters
    ----------
    photos : at least two, each with its own fit
    u_shift_mm : float
        How much the card may have moved against the ear from one photo to another: the standard
        deviation of the difference, each axis; 0 for a card that is fixed to the head.
    printed : how well the print's scale is known; the photos' corners bear the bars already

    Returns
    -------
    ViewsSolved, or ViewsRefused where fewer than two photos can be used, no dot can be
    triangulated, or the photos contradict each other in a way that can't be put right
    """
    if len(photos) < 2:
        return ViewsRefused("one_photo", tuple(p.name for p in photos), ())
    cards = cards_alone(photos, printed)
    if cards is None:
        return ViewsRefused("cards", tuple(p.name for p in photos), ())
    return dots_in_space(cards, u_shift_mm)


def dots_in_space(cards: Cards, u_shift_mm: float) -> ViewsOutcome:
    """Return the pen dots in space from photos whose cards are adjusted already.

    The same as `measure_views`, which does that first; for marks that change while the photos
    stay (`Cards.with_marks`).
    """
    return _Search(cards, u_shift_mm).run()


@dataclass
class _Search:
    """Rounds of adjusting, testing and leaving out, until the dots fit or nothing is left."""

    cards: Cards
    u_shift_mm: float

    def run(self) -> ViewsOutcome:
        photos, u_shift, alone = self.cards.photos, self.u_shift_mm, self.cards.found
        wrong = list[str]()
        said = [PhotoSaid("lens", (name,)) for name in self.cards.own_lens]
        for _ in range(ROUNDS):
            kept, refused = self._points(photos, wrong)
            if not kept:
                return ViewsRefused("no_points", (), refused)
            problem = Problem(photos, kept, alone.problem.printed, u_shift, np.zeros(3))
            found = self._solve(problem)
            if found is not None and fits(found, alone.cost):
                if u_shift < LOOSE_MM and moved_further(found):
                    u_shift = LOOSE_MM
                    continue
                moved = u_shift > self.u_shift_mm
                return _solved(found, refused, tuple(said), moved=moved)
            likely = self._likely(problem)
            if not likely and found is None:
                return ViewsRefused("misfit", tuple(p.name for p in photos), refused)
            if not likely and found is not None:
                wrong.append(_worst(found))
                continue
            kind, names = likely[0].cause.kind, _names(likely)
            if kind == "swapped" or (kind == "photo" and len(names) > 1):
                return ViewsRefused("swapped" if kind == "swapped" else "odd", names, refused)
            if kind == "photo":
                said.append(PhotoSaid("odd", names))
                photos = tuple(p.with_marks({}) if p.name in names else p for p in photos)
            elif kind == "point":
                wrong += names
            else:
                u_shift = likely[0].cause.problem.u_shift_mm
        kept, refused = self._points(photos, wrong)
        return ViewsRefused("misfit", tuple(p.name for p in photos), refused)

    def _likely(self, problem: Problem) -> list[Explained]:
        """Return the most probable cause that mends it, and those of its kind that rival it."""
        ranked = explain(problem, self._solve, self._begin_cost)
        mending = [e for e in ranked if fits(e.found, self.cards.found.cost)]
        if not mending:
            return []
        best = mending[0]
        return [
            e
            for e in mending
            if e.cause.kind == best.cause.kind and e.surprise < best.surprise + CLEAR
        ]

    def _points(
        self, photos: Iterable[ViewPhoto], wrong: Sequence[str]
    ) -> tuple[tuple[str, ...], tuple[PointRefused, ...]]:
        """Return the dots that can be triangulated, and why the others can't."""
        kept, refused = list[str](), list[PointRefused]()
        own = tuple(photos)
        places = self._places(own)
        for name, at in places.items():
            shown = tuple(photo.name for photo in own if name in photo.marks)
            if name in wrong:
                refused.append(PointRefused(name, "rays_miss", shown))
            elif len(shown) < 2:
                refused.append(PointRefused(name, "one_view", shown))
            elif (angle := self._angle_deg(own, name, at)) < LEAST_ANGLE_DEG:
                refused.append(PointRefused(name, "narrow", shown, angle))
            else:
                kept.append(name)
        return tuple(kept), tuple(refused)

    def _angle_deg(self, photos: Sequence[ViewPhoto], name: str, at: Array) -> float:
        shown = [i for i, photo in enumerate(photos) if name in photo.marks]
        return widest_angle_deg(np.array([self.cards.cameras[i].centre_mm for i in shown]), at)

    def _places(self, photos: Sequence[ViewPhoto]) -> dict[str, Array]:
        return nearest_places(self.cards.cameras, [photo.marks for photo in photos])

    def _begin(self, problem: Problem) -> tuple[Problem, Array]:
        """Return the problem about its dots' middle, and where its adjustment begins."""
        near = self._places(problem.photos)
        places = [near[name] for name in problem.points]
        whole = replace(problem, pivot_mm=np.mean(places, axis=0))
        start = np.zeros(whole.size)
        alone = self.cards.found
        start[: alone.problem.size] = alone.x
        start[whole.size - 3 * len(places) :] = np.concatenate(places)
        return whole, start

    def _begin_cost(self, problem: Problem) -> float:
        whole, start = self._begin(problem)
        return cost_of(whole.blocks(start))

    def _solve(self, problem: Problem) -> Adjusted | None:
        """Return the adjustment with dots, begun at the cards' own."""
        return adjust(*self._begin(problem), LEAST_STEPS)


def _names(likely: Sequence[Explained]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for one in likely for name in one.cause.names))


def _worst(found: Adjusted) -> str:
    chances = point_chances(found)
    return min(chances, key=lambda name: chances[name])


def _solved(
    found: Adjusted,
    refused: tuple[PointRefused, ...],
    said: tuple[PhotoSaid, ...],
    *,
    moved: bool,
) -> ViewsSolved:
    problem, angles, seen = found.problem, {}, {}
    centres = np.array([found.camera(i).centre_mm for i in range(len(problem.photos))])
    for name in problem.points:
        shown = [i for i, photo in enumerate(problem.photos) if name in photo.marks]
        angles[name] = widest_angle_deg(centres[shown], found.point(name))
        seen[name] = tuple(problem.photos[i].name for i in shown)
    return ViewsSolved(found, points_of(found), angles, seen, refused, said, moved)
