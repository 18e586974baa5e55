"""The second visit by one photo of each: ``python -m benchmarks.accuracy --recheck``.

Pairs by geometry over ten ears that nothing was tuned on; what each camera sees is cast against the
mesh.  Writes ``benchmarks/recheck.md``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess.recheck import compare
from assess.recheck_change import Change, End, NotComparable, Shift
from assess.recheck_pair import pair_of
from benchmarks.ears import drawn_ears, random_site_on
from benchmarks.recheck_scenes import (
    Marking,
    Moved,
    VisitPhoto,
    draw_pair,
    photograph,
    truth,
)
from benchmarks.scenes import seeds
from calibration.draws import Draws
from calibration.frames import Array
from sample_images.ears import Ear

EARS_SEED, SEED = 20261401, 20261402
"""Of the ten ears, and of the pairs.  The models were tuned on the named ears, by other seeds."""
EARS_COUNT = 10
DRAWS = 200
MOST_TILT_DEG, MOST_SHIFT_MM, MOST_SWELLING_MM, MOST_VIEW_DEG = 15.0, 4.0, 2.0, 5.0
FOUND_TILT_DEG, FOUND_SHIFT_MM = 8.0, 2.5
MARKINGS = {"traced": Marking(1.0, 0.5), "by hand": Marking(2.0, 1.5)}


@dataclass(frozen=True, slots=True)
class PairScore:
    """One pair: what is true of tilt (deg) and both ends' shifts (mm), and what was said."""

    ear: str
    marking: str
    changed: bool
    tilt_true: float
    shifts_true: Array  # (2, 2)
    change: Change | NotComparable | None
    """None where an end of the post was hidden in a photo."""

    def tilt_error(self) -> float:
        """Return said less true, deg."""
        return self._said.tilt.value - self.tilt_true

    def tilt_inside(self) -> bool:
        """Return whether the true tilt lies within U."""
        return abs(self.tilt_error()) <= self._said.tilt.expanded

    def tilt_U(self) -> float:  # noqa: N802  (U is the expanded uncertainty)
        """Return U of the tilt, deg."""
        return self._said.tilt.expanded

    def shift_error(self, end: int) -> float:
        """Return how far the said shift lies off the true one, mm."""
        return float(np.linalg.norm(self._shift(end).vector - self.shifts_true[end]))

    def shift_inside(self, end: int) -> bool:
        """Return whether the true shift lies in the 95 % ellipse."""
        return self._shift(end).holds(self.shifts_true[end])

    def shift_moved(self, end: int) -> bool:
        """Return whether the end is said to have moved."""
        return self._shift(end).moved

    def shift_U(self, end: int) -> float:  # noqa: N802  (U is the expanded uncertainty)
        """Return U of the shift, mm."""
        return self._shift(end).expanded

    @property
    def _said(self) -> Change:
        if not isinstance(self.change, Change):
            raise TypeError("this pair wasn't compared")
        return self.change

    def _shift(self, end: int) -> Shift:
        ends: tuple[End, End] = ("entry", "exit")
        return self._said.ends[ends[end]]


def drawn_movement(rng: np.random.Generator) -> Moved:
    """Return a random movement, evenly over what is scored."""
    way, far = rng.uniform(0, 2 * np.pi), rng.uniform(0, MOST_SHIFT_MM)
    return Moved(
        float(rng.uniform(-MOST_TILT_DEG, MOST_TILT_DEG)),
        (float(far * np.cos(way)), float(far * np.sin(way))),
        float(rng.uniform(0, MOST_SWELLING_MM)),
    )


def score(ear: Ear, marking: str, *, changed: bool, rng: np.random.Generator) -> PairScore:
    """Return how the program does on one random pair on an ear."""
    site = random_site_on(ear, rng)
    first, later, person = draw_pair(site, rng, float(rng.uniform(0, MOST_VIEW_DEG)))
    moved = drawn_movement(rng)
    if not changed:
        moved = Moved(swelling_mm=moved.swelling_mm)
    tilt, shifts = truth(site, moved, person.lean_deg)
    how = MARKINGS[marking]
    then = photograph(site, first, Moved(), person, how, rng)
    now = photograph(site, later, moved, person, how, rng)
    said = None if then is None or now is None else compared(then, now)
    return PairScore(ear.name, marking, changed, tilt, shifts, said)


def compared(then: VisitPhoto, now: VisitPhoto) -> Change | NotComparable:
    """Return what the program says of two photos."""
    pair = pair_of(
        (then.marks, now.marks),
        ("scene", "scene"),
        (then.post, now.post),
        (then.reading, now.reading),
    )
    if pair is None:
        return NotComparable("no_rim")
    draws = Draws(1, DRAWS, "baseline"), Draws(1, DRAWS, "now")
    return compare("A", pair, (then.worn, now.worn), 1.0, draws)


def run_recheck(pairs: int, seed: int = SEED, ears_seed: int = EARS_SEED) -> list[PairScore]:
    """Return the scores: so many unchanged pairs, a quarter moved; by hand a tenth of each."""
    ears = list(drawn_ears(ears_seed, EARS_COUNT))
    plan = [("traced", False)] * pairs + [("traced", True)] * (pairs // 4)
    plan += [("by hand", False)] * (pairs // 10) + [("by hand", True)] * (pairs // 10)
    return [
        score(ears[i % len(ears)], marking, changed=changed, rng=rng)
        for i, ((marking, changed), rng) in enumerate(
            zip(plan, seeds(seed, len(plan)), strict=True)
        )
    ]
