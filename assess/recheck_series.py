"""What of a comparison is followed over the visits: tilt, both ends across the axis, the channel.

Each with the part of its u that all visits share, as they are held against one baseline.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np

from assess.recheck_change import SHARED, Change
from assess.recheck_visit import Rechecked
from assess.trend import LEAST_VISITS, MONTH_DAYS, Seen, Trend, trend
from calibration.frames import Array

Followed = Literal["tilt", "entry", "exit", "channel"]
FOLLOWED: tuple[Followed, ...] = ("tilt", "entry", "exit", "channel")
WHAT: dict[Followed, str] = {
    "tilt": "tilt toward the face",
    "entry": "upper end, toward the face",
    "exit": "lower end, toward the face",
    "channel": "channel as seen",
}
UNIT: dict[Followed, str] = {"tilt": "°", "entry": "mm", "exit": "mm", "channel": "mm"}
LEAST_U = 1e-6


@dataclass(frozen=True, slots=True)
class Point:
    """A change since the baseline: its value, its u, and the part of u that visits share."""

    followed: Followed
    value: float
    u: float
    u_common: float


@dataclass(frozen=True, slots=True)
class Followup:
    """One number over the visits, and its drift where there are visits enough."""

    followed: Followed
    baseline: date
    seen: tuple[Seen, ...]
    trend: Trend | None

    def weeks(self, on: date) -> float:
        """Return how many weeks after the baseline a day is."""
        return (on - self.baseline).days / 7.0

    @property
    def drift_end(self) -> float | None:
        """Return where the fitted line is at the last visit; None without one."""
        if self.trend is None:
            return None
        return self.trend.per_month * (self.seen[-1].on - self.baseline).days / MONTH_DAYS


def points_of(found: Rechecked) -> tuple[Point, ...]:
    """Return what of a comparison is followed.

    The channel's part that visits share is the baseline's own: var(then) - cov(then, now), as
    what both visits share falls out of their difference.
    """
    points = [] if not isinstance(found.change, Change) else _moved(found.change)
    if found.longer is not None and found.then_mm is not None and found.channel_mm is not None:
        shared = np.cov(found.then_mm, found.channel_mm)
        own = max(float(shared[0, 0] - shared[0, 1]), 0.0)
        u = max(found.longer.u, LEAST_U)
        points.append(Point("channel", found.longer.value, u, min(float(np.sqrt(own)), u)))
    return tuple(points)


def _moved(change: Change) -> list[Point]:
    common = sum(
        (part for name, part in change.parts.items() if _is_common(name)),
        np.zeros(len(change.draws)),
    )
    before, wide = (1, 2) if change.in_space is None else (2, 3)
    points = [_point("tilt", *change.tilt.toward_face, common, 0)]
    for i, (end, shift) in enumerate(change.ends.items()):
        across = float(shift.vector[1]), float(np.sqrt(shift.covariance[1, 1]))
        points.append(_point(end, *across, common, before + wide * i + 1))
    return points


def _point(followed: Followed, value: float, u: float, common: Array, row: int) -> Point:
    return Point(followed, value, max(u, LEAST_U), min(float(np.sqrt(common[row])), u))


def _is_common(name: str) -> bool:
    """Return whether an input is the baseline's own, or of both visits."""
    return name.startswith("baseline: ") or name in SHARED


def followups(
    baseline: date, visits: Sequence[tuple[date, Sequence[Point]]]
) -> tuple[Followup, ...]:
    """Return each number over the visits, the oldest first; of one day the last counts.

    Parameters
    ----------
    baseline : its day
    visits : the day of each later visit, and what was followed at it, all by one baseline
    """
    found = []
    for followed in FOLLOWED:
        by_day: dict[date, Seen] = {}
        for on, points in visits:
            for each in points:
                if each.followed == followed and on > baseline:
                    by_day[on] = _seen(on, each)
        seen = tuple(by_day[on] for on in sorted(by_day))
        if seen:
            enough = len(seen) + 1 >= LEAST_VISITS
            found.append(
                Followup(followed, baseline, seen, trend(baseline, seen) if enough else None)
            )
    return tuple(found)


def _seen(on: date, point: Point) -> Seen:
    own = max(point.u**2 - point.u_common**2, LEAST_U**2)
    return Seen(on, point.value, float(np.sqrt(own)), point.u_common)
