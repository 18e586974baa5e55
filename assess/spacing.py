"""What must lie between posts, their ends and earlier piercings; and who breaks it.

One place for the rules: proposals keep them, and what a piercer drags is held against them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from assess.criteria import DEFAULT_CRITERIA, Limit
from calibration.frames import Array

GAP_MM = 1.0
"""Between two posts' ends, for swelling and cleaning (assumption: common practice, no source)."""

AXES, TOPS, BOTTOMS, HOLE = "axes", "upper ends", "lower ends", "earlier piercing"


@dataclass(frozen=True, slots=True)
class Needs:
    """Least distances: ``spacing`` between axes, ``gap_mm`` between the edges of ends."""

    spacing: Limit = DEFAULT_CRITERIA.limits["spacing"]
    gap_mm: float = GAP_MM

    @property
    def axes_mm(self) -> float:
        """Return the least distance between axes."""
        return self.spacing.low or 0.0


@dataclass(frozen=True, slots=True)
class Earlier:
    """A piercing that is there or planned already: a hole, or a bar through two places.

    ``start`` and ``end`` are where it is seen, mm in the rim's plane, the same for a hole;
    ``end_mm`` is how wide its ends or its jewellery are, ``bar_mm`` how thick a bar between the
    two places is, 0 where nothing lies between them.
    """

    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    end_mm: float
    bar_mm: float = 0.0
    planned: bool = False

    def __post_init__(self) -> None:
        if self.end_mm < 0.0 or self.bar_mm < 0.0:
            raise ValueError(f"{self.name}: sizes must be at least 0")


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """Placements as they lie on a rim: (K, ...) entries and exits, mm, and their ends' widths."""

    labels: tuple[str, ...]
    entry_mm: Array  # (..., K, 2)
    exit_mm: Array  # (..., K, 2)
    top_mm: Array  # (K,)
    bottom_mm: Array  # (K,)

    @property
    def middle_mm(self) -> Array:
        """Return the middles of the channels, (..., K, 2) mm."""
        return np.asarray((self.entry_mm + self.exit_mm) / 2.0)


@dataclass(frozen=True, slots=True)
class Clearance:
    """One distance between two things, what it must be, and which part of them is meant."""

    first: str
    second: str
    part: str
    distance_mm: float
    needed_mm: float

    @property
    def margin_mm(self) -> float:
        """Return by how much it is kept; negative where it is broken."""
        return self.distance_mm - self.needed_mm


def clearances(laid: Laid, needs: Needs, earlier: Sequence[Earlier] = ()) -> tuple[Clearance, ...]:
    """Return every distance that has a limit, the tightest first."""
    found = []
    for i, j in combinations(range(len(laid.labels)), 2):
        for part, distance, needed in _pair(laid, i, j, needs):
            first, second = laid.labels[i], laid.labels[j]
            found.append(Clearance(first, second, part, float(distance), float(needed)))
    for i, label in enumerate(laid.labels):
        for other in earlier:
            for part, distance, needed in _beside(laid, i, other, needs):
                found.append(Clearance(label, other.name, part, float(distance), float(needed)))
    return tuple(sorted(found, key=lambda each: each.margin_mm))


def pair_margin_mm(laid: Laid, needs: Needs) -> Array:
    """Return the least margin between any two placements, (...) mm; inf for a single one."""
    margins = [
        distance - needed
        for i, j in combinations(range(len(laid.labels)), 2)
        for _, distance, needed in _pair(laid, i, j, needs)
    ]
    if not margins:
        return np.full(laid.entry_mm.shape[:-2], np.inf)
    return np.asarray(np.minimum.reduce(margins))


def earlier_margin_mm(laid: Laid, i: int, needs: Needs, earlier: Sequence[Earlier]) -> Array:
    """Return the least margin from a placement to what was there before, (...) mm."""
    margins = [
        distance - needed
        for other in earlier
        for _, distance, needed in _beside(laid, i, other, needs)
    ]
    if not margins:
        return np.full(laid.entry_mm.shape[:-2], np.inf)
    return np.asarray(np.minimum.reduce(margins))


def _pair(laid: Laid, i: int, j: int, needs: Needs) -> list[tuple[str, Array, float]]:
    tops = float(laid.top_mm[i] + laid.top_mm[j]) / 2.0 + needs.gap_mm
    bottoms = float(laid.bottom_mm[i] + laid.bottom_mm[j]) / 2.0 + needs.gap_mm
    entries, exits = laid.entry_mm, laid.exit_mm
    middles = _length(laid.middle_mm[..., i, :] - laid.middle_mm[..., j, :])
    return [
        (AXES, middles, needs.axes_mm),
        (TOPS, _length(entries[..., i, :] - entries[..., j, :]), tops),
        (BOTTOMS, _length(exits[..., i, :] - exits[..., j, :]), bottoms),
    ]


def _beside(laid: Laid, i: int, other: Earlier, needs: Needs) -> list[tuple[str, Array, float]]:
    entry, exit_ = laid.entry_mm[..., i, :], laid.exit_mm[..., i, :]
    start, end = np.asarray(other.start), np.asarray(other.end)
    top = float(laid.top_mm[i] + other.end_mm) / 2.0 + needs.gap_mm
    bottom = float(laid.bottom_mm[i] + other.end_mm) / 2.0 + needs.gap_mm
    found = [
        (HOLE, between_segments(entry, exit_, place, place), needs.axes_mm)
        for place in (start, end)
    ]
    for place in (start, end):
        found += [(TOPS, _length(entry - place), top), (BOTTOMS, _length(exit_ - place), bottom)]
    if other.bar_mm > 0.0:
        wide = float(max(laid.top_mm[i], laid.bottom_mm[i])) / 2.0
        bar = max(needs.axes_mm, wide + other.bar_mm / 2.0 + needs.gap_mm)
        found.append((AXES, between_segments(entry, exit_, start, end), bar))
    return found


def between_segments(p: Array, q: Array, a: Array, b: Array) -> Array:
    """Return the distance between segments p-q and a-b in a plane, (...) of (..., 2) points."""
    apart = np.minimum.reduce(
        [to_segment(p, a, b), to_segment(q, a, b), to_segment(a, p, q), to_segment(b, p, q)]
    )
    way, other, to = q - p, b - a, a - p
    bend = _cross(way, other)
    with np.errstate(divide="ignore", invalid="ignore"):
        t, s = _cross(to, other) / bend, _cross(to, way) / bend
    crossing = (bend != 0.0) & (t >= 0.0) & (t <= 1.0) & (s >= 0.0) & (s <= 1.0)
    return np.where(crossing, 0.0, apart)


def to_segment(point: Array, a: Array, b: Array) -> Array:
    """Return the distance from points to segments a-b, (...) of (..., 2) points."""
    way = b - a
    square = np.sum(way * way, axis=-1)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.sum((point - a) * way, axis=-1) / square
    t = np.where(square > 0.0, np.clip(t, 0.0, 1.0), 0.0)
    return _length(point - a - t[..., None] * way)


def _length(vector: Array) -> Array:
    return np.asarray(np.hypot(vector[..., 0], vector[..., 1]))


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])
