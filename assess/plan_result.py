"""The plan in the result file: what was found of it, in numbers and in words."""

from __future__ import annotations

from typing import Literal

from assess.plan_marks import Approval
from assess.result_parts import Part, QuantityOut


class PlanPostOut(Part):
    """A planned post at one time: at first, or after downsizing.

    ``each_side`` stands out if it stands in the middle, ``most`` if it slid to one side; ``arm``
    is the longest arm outside over half the channel, ``presses`` how probably the ends press.
    """

    when: Literal["now", "downsized"]
    length_mm: float
    to_order: bool
    each_side: QuantityOut
    most: QuantityOut
    arm: float
    presses: float
    room_worn: QuantityOut | None
    room_pierced: QuantityOut | None
    fits: float | None
    sentence: str


class PlanEndOut(Part):
    """How one end sits, along the rim: degrees from square, and what its far edge stands off."""

    seat_deg: float
    stands_off_mm: float
    sentence: str


class PlannedOut(Part):
    """One planned post; places in px of the photo, ``arc_mm`` from the contour's front."""

    label: str
    entry_px: tuple[float, float]
    exit_px: tuple[float, float]
    arc_mm: float
    lean_deg: float
    channel: QuantityOut
    probability: float
    limits: dict[str, float]
    posts: tuple[PlanPostOut, PlanPostOut]
    entry_end: PlanEndOut
    exit_end: PlanEndOut
    fold_room_mm: float | None
    sentences: tuple[str, ...]


class CarriesOut(Part):
    """How many posts the rim carries together, and what rules it."""

    count: int
    why: str
    usable_mm: tuple[tuple[float, float], ...]
    settled: bool
    probability: float | None
    sentence: str


class DistanceOut(Part):
    """A distance that has a limit, and whether it keeps it."""

    first: str
    second: str
    part: str
    distance_mm: float
    needed_mm: float
    sentence: str


class WornOut(Part):
    """How far a worn thing is from one end of one post."""

    file: str
    thing: str
    name: str
    label: str
    end: Literal["entry", "exit"]
    when: Literal["now", "downsized"]
    distance: QuantityOut
    touch_probability: float
    says: Literal["touches", "close", "clear"]
    sentence: str


class PlanOut(Part):
    """Everything said of the plan.

    ``off_rim`` are placements whose axis doesn't come out of the rim; ``distances`` those that
    are broken and the tightest others; ``draws`` of which its numbers are.
    """

    photo: str
    wanted: int
    spacing: str
    upright: bool
    placements: tuple[PlannedOut, ...]
    off_rim: tuple[str, ...]
    probability: float | None
    supports: bool
    sentences: tuple[str, ...]
    carries: CarriesOut
    distances: tuple[DistanceOut, ...]
    worn: tuple[WornOut, ...]
    jewellery: tuple[str, ...]
    approval: Approval | None
    draws: int
    low_confidence: bool = False
