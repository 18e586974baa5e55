"""What changed since the baseline, in space: by several photos of each visit.

The ear's lasting places are laid on each other rigidly, the later visit's post is carried over.
Nothing is asked of the view: what moves toward the viewer is seen as well.

What the uncertainty leaves out: an ear that bends between the visits; a lasting place that is
another one; what `assess.recheck` leaves out besides.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from assess.recheck_change import ENDS, Change, InSpace, Leaned, Shift, drawn
from assess.recheck_marks import WornPost
from assess.recheck_space_points import (
    LEAST_ACROSS_MM,
    LEAST_SHARED,
    VisitPoints,
    WhyNotSpace,
    across_mm,
    shared_points,
)
from assess.recheck_space_registration import (
    Key,
    SpaceRegistered,
    by_name,
    joined,
    register_in_space,
)
from calibration.draws import Draws
from calibration.frames import TOWARD_VIEWER, Array

ROWS = 8
"""Tilt toward the face and outward, deg; of each end the shift along the axis, toward the face
and outward, mm."""
STEP = 1e-4
PRINT = frozenset({"print scale", "print scale by axis"})


def compare_in_space(
    label: str,
    visits: tuple[VisitPoints | None, VisitPoints | None],
    posts: tuple[WornPost, WornPost],
    others: frozenset[str],
    face: float,
    draws: tuple[Draws, Draws],
    *,
    same_print: bool,
) -> Change | WhyNotSpace:
    """Return how a post changed from the baseline's photos to later ones, or why not in space.

    Parameters
    ----------
    label : the placement's
    visits : the baseline's and the later one's points; None where photos give none
    posts : what is known of the post then and now
    others : labels of all placements that have a post at either visit
    face : +1 where the face lies to the left of up as seen (a left ear), else -1
    draws : of the baseline's visit and of this one; they differ in their visits
    same_print : whether both visits are measured with one print
    """
    ready = _ready(label, visits, others)
    if isinstance(ready, str):
        return ready
    both, names = ready

    def key(visit: str, name: str) -> str:
        return name if same_print and name in PRINT else f"{visit}: {name}"

    found = _registered(both, names, key)
    if found is None:
        return "no_match"
    outcome = _Outcome(label, both, found, face, posts)
    rows, loadings = outcome.rows(), outcome.loadings(key)
    covariance = sum((part @ part.T for part in loadings.values()), np.zeros((ROWS, ROWS)))
    ends = {
        end: Shift(rows[at], covariance[at, at])
        for end, at in zip(ENDS, (slice(2, 5), slice(5, 8)), strict=True)
    }
    files = both[0].photos, both[1].photos
    return Change(
        label,
        (files[0][0], files[1][0]),
        Leaned.of(rows[:2], covariance[:2, :2]),
        ends,
        None,
        found,
        drawn(rows, loadings, draws),
        {name: np.sum(part**2, axis=1) for name, part in loadings.items()},
        InSpace(files, found.names, tuple(n for n in names if n not in found.names)),
    )


def _ready(
    label: str, visits: tuple[VisitPoints | None, VisitPoints | None], others: frozenset[str]
) -> tuple[tuple[VisitPoints, VisitPoints], tuple[str, ...]] | WhyNotSpace:
    """Return both visits' points and the names that they share, or why that isn't enough."""
    first, later = visits
    if first is None or later is None:
        return "few_photos"
    if first.ends(label) is None or later.ends(label) is None:
        return "ends"
    names = shared_points((first, later), label, others)
    if len(names) < LEAST_SHARED:
        return "few_points"
    if across_mm(np.array([first.points.place(name) for name in names])) < LEAST_ACROSS_MM:
        return "in_line"
    return (first, later), names


def _registered(
    visits: tuple[VisitPoints, VisitPoints], names: Sequence[str], key: Key
) -> SpaceRegistered | None:
    """Return the registration that the points allow, one of them left out if need be."""
    first, later = (visit.points for visit in visits)
    found = register_in_space(first, later, names, key)
    if found.matches:
        return found
    fewer = []
    for name in names if len(names) > LEAST_SHARED else ():
        kept = [other for other in names if other != name]
        if across_mm(np.array([first.place(other) for other in kept])) >= LEAST_ACROSS_MM:
            fewer.append(register_in_space(first, later, kept, key))
    best = max(fewer, key=lambda each: each.probability, default=None)
    return best if best is not None and best.matches else None


class _Outcome:
    """Tilt and shifts at the registration, and how they answer to every input."""

    def __init__(
        self,
        label: str,
        visits: tuple[VisitPoints, VisitPoints],
        found: SpaceRegistered,
        face: float,
        posts: tuple[WornPost, WornPost],
    ) -> None:
        self.found, self.face, self.posts, self.visits, self.label = (
            found,
            face,
            posts,
            visits,
            label,
        )
        first, later = ([v.points.place(n) for n in self._names(v)] for v in visits)
        self.first, self.later = np.array(first), np.array(later)

    def _names(self, visit: VisitPoints) -> tuple[str, str]:
        names = visit.ends(self.label)
        assert names is not None
        return names

    def rows(self, moved: Array | None = None) -> Array:
        """Return the rows; ``moved`` (18,) moves both visits' ends and the registration."""
        step = np.zeros(18) if moved is None else moved
        then = self.first + step[:6].reshape(2, 3)
        now = self.found.carried(self.later + step[6:12].reshape(2, 3), step[12:])
        frame = axes_of(then[0] - then[1], self.face)
        way = frame @ (now[0] - now[1])
        sine = float(np.linalg.norm(way[1:]))
        angle = np.rad2deg(np.arctan2(sine, way[0]))
        lean = way[1:] / sine * angle if sine > 1e-12 else np.zeros(2)
        shifts = (now - then) @ frame.T
        # A longer post reaches further down by as much, along the axis as it stands now.
        shifts[1] += self._longer_mm() * way / np.linalg.norm(way)
        return np.concatenate([lean, shifts[0], shifts[1]])

    def _longer_mm(self) -> float:
        then, now = (post.length_mm for post in self.posts)
        return 0.0 if then is None or now is None else now - then

    def loadings(self, key: Key) -> dict[str, Array]:
        """Return what each input's standardised components move of the rows, by its name."""
        steps = STEP * np.eye(18)
        slope = np.column_stack([(self.rows(s) - self.rows(-s)) / (2 * STEP) for s in steps])
        first, later = self.visits
        ends = [
            {
                name: part @ move
                for name, move in by_name(visit.points, self._names(visit), which, key).items()
            }
            for visit, which, part in (
                (first, "baseline", slope[:, :6]),
                (later, "now", slope[:, 6:12]),
            )
        ]
        lain = {name: slope[:, 12:] @ part for name, part in self.found.loadings.items()}
        return joined(joined(ends[0], ends[1]), lain) | self._slide()

    def _slide(self) -> dict[str, Array]:
        """Return what sliding does at both visits: along the axis as it stands at each."""
        now = self.found.carried(self.later)
        axes = axes_of(self.first[0] - self.first[1], self.face) @ np.column_stack(
            [self.first[0] - self.first[1], now[0] - now[1]]
        )
        ways = zip(("baseline", "now"), self.posts, (-1.0, 1.0), axes.T, strict=True)
        return {
            f"{which}: post slides": np.concatenate(
                [np.zeros(2), np.tile(sign * post.u_slide_mm * way / np.linalg.norm(way), 2)]
            )[:, None]
            for which, post, sign, way in ways
        }


def axes_of(along: Array, face: float) -> Array:
    """Return the axis, the way to the face across it and the way outward, (3, 3) rows.

    Parameters
    ----------
    along : (3,) array
        From the exit's end to the entry's, card frame; not along the card's normal.
    face : +1 where the face lies to the left of up as seen (a left ear), else -1
    """
    axis = along / np.linalg.norm(along)
    across = -face * np.cross(axis, TOWARD_VIEWER)
    across = across / np.linalg.norm(across)
    outward = TOWARD_VIEWER - (TOWARD_VIEWER @ axis) * axis
    return np.stack([axis, across, outward / np.linalg.norm(outward)])
