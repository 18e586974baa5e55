"""A plan: up to five placements on a rim, laid out in mm, mirrored, and compared.

A plan says where along the rim each post enters and how its axis leans; what comes of it, its
channel and exit, is the rim's.  So a plan can be moved to the other ear and back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from assess.rim_curve import RimCurve
from assess.spacing import Laid
from calibration.frames import Array

MOST = 5
"""Placements on one rim."""

Spacing = Literal["arc", "sight", "free"]
"""Even by arc length, even by sight in the photo, or each where the rim carries it best."""

END_MM = 3.0
"""Width of a post's end unless told otherwise (assumption: common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One placement: where its post enters, how its axis leans, and how wide its ends are.

    ``arc_mm`` counts along the outer contour from its front; ``lean_deg`` from the inward normal,
    positive toward the back.
    """

    label: str
    arc_mm: float
    lean_deg: float = 0.0
    top_mm: float = END_MM
    bottom_mm: float = END_MM

    def moved(self, arc_mm: float, lean_deg: float | None = None) -> Planned:
        """Return it where it was dragged to."""
        return replace(
            self, arc_mm=arc_mm, lean_deg=self.lean_deg if lean_deg is None else lean_deg
        )


@dataclass(frozen=True, slots=True)
class Plan:
    """One to five placements on a rim, in order from front to back."""

    placements: tuple[Planned, ...]

    def __post_init__(self) -> None:
        labels = [each.label for each in self.placements]
        if not 1 <= len(labels) <= MOST:
            raise ValueError(f"a plan must have 1 to {MOST} placements (got {len(labels)})")
        if len(set(labels)) < len(labels):
            raise ValueError(f"placements must have labels of their own (got {', '.join(labels)})")

    @property
    def labels(self) -> tuple[str, ...]:
        """Return the placements' labels."""
        return tuple(each.label for each in self.placements)

    @property
    def arc_mm(self) -> Array:
        """Return where the posts enter, (P,) mm along the outer contour."""
        return np.array([each.arc_mm for each in self.placements])

    @property
    def lean_deg(self) -> Array:
        """Return how the axes lean, (P,) deg."""
        return np.array([each.lean_deg for each in self.placements])

    def dragged(self, label: str, arc_mm: float, lean_deg: float | None = None) -> Plan:
        """Return the plan with one placement moved."""
        if label not in self.labels:
            raise ValueError(f"no placement {label!r} in this plan")
        moved = (p.moved(arc_mm, lean_deg) if p.label == label else p for p in self.placements)
        return Plan(tuple(moved))


@dataclass(frozen=True, slots=True)
class OffRim:
    """A placement whose axis doesn't come out of the rim, by its label."""

    labels: tuple[str, ...]


def lay(plan: Plan, rim: RimCurve) -> Laid | OffRim:
    """Return where a plan's ends lie on a rim."""
    inside = (plan.arc_mm >= 0.0) & (plan.arc_mm <= rim.length_mm)
    way = rim.direction(plan.arc_mm, plan.lean_deg)
    chord = np.where(inside, rim.chord_mm(plan.arc_mm, way), np.nan)
    off = tuple(np.asarray(plan.labels)[np.isnan(chord)].tolist())
    if off:
        return OffRim(off)
    entry = rim.at(plan.arc_mm)
    return Laid(
        plan.labels,
        entry,
        entry + chord[:, None] * way,
        np.array([each.top_mm for each in plan.placements]),
        np.array([each.bottom_mm for each in plan.placements]),
    )


@dataclass(frozen=True, slots=True)
class Moved:
    """A plan on the other ear, and what the two rims are laid against each other by."""

    plan: Plan
    by_top: bool
    """By the highest place of both rims; else by the fronts of both contours."""


def onto(plan: Plan, rim: RimCurve, other: RimCurve) -> Moved:
    """Return a plan as it goes on the other ear: as far along the rim, leaning as much.

    Both rims are laid against each other at their highest place, where both contours go over it.
    Placements keep their distance from it along the rim, so moving back gives the plan again.
    """
    here, there = rim.top_mm(), other.top_mm()
    shift = 0.0 if here is None or there is None else there - here
    moved = tuple(each.moved(each.arc_mm + shift) for each in plan.placements)
    return Moved(Plan(moved), here is not None and there is not None)


@dataclass(frozen=True, slots=True)
class Difference:
    """What one placement is on either ear: along the rim (mm), lean (deg), channel (mm).

    Each is the second ear's less the first's; ``channel_mm`` is None where one comes off the rim.
    """

    label: str
    arc_mm: float
    lean_deg: float
    channel_mm: float | None


def differences(
    plan: Plan, rim: RimCurve, other: RimCurve, there: Plan | None = None
) -> tuple[Difference, ...]:
    """Return how a plan on the other ear differs from this one's mirror image.

    Parameters
    ----------
    plan, rim : on this ear
    other : the other ear's rim
    there : the plan as it stands there, with the same labels; None: mirrored as it is
    """
    mirrored = onto(plan, rim, other).plan
    stands = mirrored if there is None else there
    if set(stands.labels) != set(plan.labels):
        raise ValueError("both plans must have the same labels")
    found = {each.label: each for each in stands.placements}
    out = []
    for here, image in zip(plan.placements, mirrored.placements, strict=True):
        now = found[here.label]
        first, second = _channel(here, rim), _channel(now, other)
        channel = None if first is None or second is None else second - first
        out.append(
            Difference(
                here.label, now.arc_mm - image.arc_mm, now.lean_deg - image.lean_deg, channel
            )
        )
    return tuple(out)


def _channel(placement: Planned, rim: RimCurve) -> float | None:
    laid = lay(Plan((placement,)), rim)
    if isinstance(laid, OffRim):
        return None
    return float(np.hypot(*(laid.exit_mm - laid.entry_mm)[0]))


def steps_mm(plan: Plan) -> tuple[float, ...]:
    """Return the distances along the rim from each placement to the next, mm."""
    return tuple(float(v) for v in np.diff(np.sort(plan.arc_mm)))
