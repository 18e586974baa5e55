"""Groups of posts on one rim: spacings proposed along it, and how many it supports.

A layout is sure by the least, over all its limits, of how many of their own u they are kept by.
The surest is proposed; layouts that are sure enough count as equal, and of those the one with most
ease is: the shortest step from post to post, and twice the way from a post to where the rim stops
being sure enough, are as long as they can be.  Even layouts have two numbers, where they begin and
how far apart they are; free ones are found by the greedy way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from string import ascii_uppercase

import numpy as np

from assess.criteria import DEFAULT_CRITERIA, Limit
from assess.plan import END_MM, MOST, Plan, Planned, Spacing
from assess.rim_curve import RimCurve, along
from assess.spacing import Earlier, Laid, Needs, pair_margin_mm
from assess.usable import PlanView, Profile, profile
from calibration.frames import Array

ENOUGH = 2.0
"""Kept by so many u a limit is kept surely enough: 0.977 if nothing is shared (assumption)."""
COARSE_MM, FINE_MM = 1.0, 0.02
KEEP = 6
"""Coarse layouts that are looked at closer."""


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """A rim to plan on, with all that limits where posts may go."""

    curve: RimCurve
    view: PlanView
    needs: Needs = Needs()  # noqa: RUF009  (frozen)
    earlier: tuple[Earlier, ...] = ()
    channel: Limit = DEFAULT_CRITERIA.limits["channel"]
    ends_mm: tuple[float, float] = (END_MM, END_MM)
    upright: bool = False
    step_mm: float | None = None
    """The step along the rim that is wished for; None: as much as there is room for."""
    profile: Profile = field(init=False)

    def __post_init__(self) -> None:
        found = profile(
            self.curve,
            self.view,
            upright=self.upright,
            needs=self.needs,
            earlier=self.earlier,
            channel=self.channel,
            ends_mm=self.ends_mm,
        )
        object.__setattr__(self, "profile", found)

    def sure(self, places: Array) -> Array:
        """Return by how many u the least certain limit of each layout is kept, (...).

        Parameters
        ----------
        places : (..., P) array, mm of arc, from front to back
        """
        p = self.profile
        inside = (places >= 0.0) & (places <= self.curve.length_mm)
        single = np.where(inside, np.interp(places, p.arc_mm, _finite(p.sure)), -np.inf)
        laid = self.laid(places)
        pairs = pair_margin_mm(laid, self.needs) / p.u_spacing_mm
        return np.asarray(np.minimum(single.min(axis=-1), pairs))

    def score(self, places: Array) -> Array:
        """Return what a proposal makes as large as it can: sureness up to enough, then ease, (...).

        Up to 1 it is the sureness over what is enough; above, 1 and the ease over the rim's length.
        """
        sure = self.sure(places)
        room = 2.0 * np.interp(places, self.profile.arc_mm, self.profile.room(ENOUGH)).min(axis=-1)
        if places.shape[-1] > 1 and self.step_mm is None:
            room = np.minimum(room, np.diff(places, axis=-1).min(axis=-1))
        enough = np.where(sure >= ENOUGH, room / self.curve.length_mm, 0.0)
        return np.asarray(np.minimum(sure / ENOUGH, 1.0) + enough)

    def laid(self, places: Array) -> Laid:
        """Return where the posts of each layout lie."""
        p, count = self.profile, places.shape[-1]
        top, bottom = (np.full(count, end) for end in self.ends_mm)
        entry, exit_ = (along(p.arc_mm, line, places) for line in (p.entry_mm, p.exit_mm))
        return Laid(tuple(ascii_uppercase[:count]), entry, exit_, top, bottom)

    def plan(self, places: Array) -> Plan:
        """Return the plan with posts at those places, named A, B and so on from the front."""
        lean = np.interp(places, self.profile.arc_mm, self.profile.lean_deg)
        return Plan(
            tuple(
                Planned(name, float(at), float(tilt), *self.ends_mm)
                for name, at, tilt in zip(ascii_uppercase, np.sort(places), lean, strict=False)
            )
        )


@dataclass(frozen=True, slots=True)
class Proposal:
    """A layout, and by how many u its least certain limit is kept."""

    plan: Plan
    spacing: Spacing
    sure: float


@dataclass(frozen=True, slots=True)
class NoLayout:
    """So many posts have no place on this rim; how many have, keeping every limit as it stands."""

    count: int
    most: int


def propose(rim: Rim, count: int, spacing: Spacing = "arc") -> Proposal | NoLayout:
    """Return the best layout of so many posts, if there is one that keeps every limit.

    Raises
    ------
    ValueError
        If there are not 1 to 5 of them.
    """
    if not 1 <= count <= MOST:
        raise ValueError(f"'count' must be 1 to {MOST} (got {count})")
    if count == 1 or spacing == "free":
        places = _free(rim, count)
    else:
        places = _even(rim, count, _steppers[spacing])
    sure = float(rim.sure(places)) if places is not None else -np.inf
    if places is None or sure < 0.0:
        return NoLayout(count, capacity(rim, 0.0))
    return Proposal(rim.plan(places), spacing, sure)


def capacity(rim: Rim, sure: float) -> int:
    """Return how many posts there is room for, each limit kept by so many u; at most five."""
    return len(_packed(rim, MOST, sure))


def _packed(rim: Rim, count: int, sure: float, ease: float = 0.0) -> list[float]:
    """Return places from front to back, each the next one that keeps every limit by ``sure``.

    Distances grow along a rim, so taking each as early as can be leaves most for the others.
    """
    p = rim.profile
    able = p.arc_mm[(p.sure >= sure) & (2.0 * p.room(ENOUGH) >= ease)]
    found: list[float] = []
    while len(found) < count and len(able):
        found.append(float(able[0]))
        rest = able[able >= found[-1] + ease][1 if ease == 0.0 else 0 :]
        layouts = np.column_stack([*(np.full(len(rest), at) for at in found), rest])
        pairs = pair_margin_mm(rim.laid(layouts), rim.needs) / p.u_spacing_mm
        able = rest[pairs >= sure]
    return found


def _free(rim: Rim, count: int) -> Array | None:
    """Return the best layout of all: by halves the most sureness, then the most ease."""
    best = _packed(rim, count, 0.0)
    if len(best) < count:
        return None
    sure, best = _most(lambda v: _packed(rim, count, v), best, ENOUGH)
    if sure < ENOUGH:
        return np.array(best)
    _, best = _most(lambda v: _packed(rim, count, ENOUGH, v), best, rim.curve.length_mm)
    return np.array(best)


def _most(
    layout: Callable[[float], list[float]], first: list[float], high: float
) -> tuple[float, list[float]]:
    """Return the largest value up to ``high`` that has a layout as long as the first, and that."""
    last = layout(high)
    if len(last) == len(first):
        return high, last
    low, best = 0.0, first
    for _ in range(30):
        middle = (low + high) / 2.0
        found = layout(middle)
        low, high, best = (middle, high, found) if len(found) == len(first) else (low, middle, best)
    return low, best


Stepper = Callable[[Rim, Array, Array, int], Array]
"""Starts and steps, (K,) each, -> layouts, (K, P) mm of arc; NaN beyond the rim."""


def _by_arc(rim: Rim, start: Array, step: Array, count: int) -> Array:
    return np.asarray(start[:, None] + step[:, None] * np.arange(count))


def _by_sight(rim: Rim, start: Array, step: Array, count: int) -> Array:
    """Return places whose straight distances, as seen, are all the same share of the rim's."""
    arc, seen = rim.curve.arc_mm, rim.curve.seen
    unit = float(np.hypot(*np.diff(seen, axis=0).T).sum()) / rim.curve.length_mm
    places = [start]
    for _ in range(count - 1):
        here = np.stack([np.interp(places[-1], arc, seen[:, i]) for i in (0, 1)], axis=-1)
        far = np.hypot(*(seen[None] - here[:, None]).transpose(2, 0, 1))
        ahead = (arc[None] > places[-1][:, None]) & (far >= step[:, None] * unit)
        at = np.argmax(ahead, axis=1)
        rows = np.arange(len(start))
        before, after = far[rows, np.maximum(at - 1, 0)], far[rows, at]
        part = np.clip((step * unit - before) / np.maximum(after - before, 1e-12), 0.0, 1.0)
        met = arc[np.maximum(at - 1, 0)] + part * (arc[at] - arc[np.maximum(at - 1, 0)])
        places.append(np.where(ahead.any(axis=1), np.maximum(met, places[-1]), np.nan))
    return np.column_stack(places)


_steppers: dict[str, Stepper] = {"arc": _by_arc, "sight": _by_sight}


def _even(rim: Rim, count: int, stepper: Stepper) -> Array | None:
    """Return the best even layout: a coarse grid of start and step, then finer about the best."""
    length, size = rim.curve.length_mm, COARSE_MM
    widths = np.arange(size, length / (count - 1) + size, size)
    if rim.step_mm is not None:
        widths = np.array([rim.step_mm])
    starts, steps = np.meshgrid(np.arange(0.0, length, size), widths)
    pairs = np.column_stack([starts.ravel(), steps.ravel()])
    best = _best(rim, pairs, count, stepper, KEEP)
    while size > FINE_MM:
        size /= 3.0
        offsets = size * np.stack(np.meshgrid([-2, -1, 0, 1, 2], [-2, -1, 0, 1, 2]), -1)
        near = (best[:, None] + offsets.reshape(1, -1, 2)).reshape(-1, 2)
        if rim.step_mm is not None:
            near[:, 1] = rim.step_mm
        best = _best(rim, near[(near >= 0.0).all(axis=1)], count, stepper, KEEP)
    places = stepper(rim, best[:1, 0], best[:1, 1], count)[0]
    return places if np.isfinite(places).all() else None


def _best(rim: Rim, pairs: Array, count: int, stepper: Stepper, keep: int) -> Array:
    places = stepper(rim, pairs[:, 0], pairs[:, 1], count)
    score = np.where(np.isfinite(places).all(axis=1), rim.score(np.nan_to_num(places)), -np.inf)
    return np.asarray(pairs[np.argsort(-score, kind="stable")[:keep]])


def _finite(sure: Array) -> Array:
    return np.asarray(np.nan_to_num(sure, neginf=-1e6, posinf=1e6))
