"""Each planned post at its place: its channel, its lengths, its ends, what room it has."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assess.criteria import Criteria
from assess.ends import End, disc_room_mm, normal_at, seat_deg, stands_off_mm
from assess.marks import Marks, PostStock
from assess.plan_marks import PlanMarks
from assess.plan_scene import Scene
from assess.posts import PostChoice, choose_post, default_stock
from assess.reading import U_MARK_MM
from assess.scale import SCALE_COMMON
from assess.spacing import Laid
from assess.worn_post import When, WornPost, worn_post
from calibration.draws import Draws
from calibration.frames import Array
from calibration.inputs import Input

NEAR_MM = 2.0
"""The structure below a marked exit counts for a planned one that is no farther from it."""
BESIDE_MM = 1.0
"""The fold's wall begins this far beside an end; nearer is what the end sits on."""


@dataclass(frozen=True, slots=True)
class Seated:
    """How one end sits along the rim: between axis and skin's normal, and what stands off."""

    seat_deg: float
    stands_off_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class PlannedPost:
    """One planned post: what the photo tells of it, with the post for the start and for later.

    ``room_mm`` below along the axis, None where nothing is marked near; ``fold_mm`` from the
    lower end to the fold's wall beside it, in the photo's plane; ``to_order`` when no length of
    the stock suits.
    """

    label: str
    entry_mm: Array
    exit_mm: Array
    channel_mm: Array
    post_mm: float
    worn: tuple[WornPost, WornPost]
    to_order: tuple[bool, bool]
    seats: tuple[Seated, Seated]
    fold_mm: float
    room_mm: Array | None

    def length_mm(self, when: When) -> float:
        """Return the post's length between its ends."""
        return self.worn[0 if when == "now" else 1].length_mm

    def spare_mm(self, when: When) -> Array:
        """Return draws of the spare length, (M,); negative where the ends press."""
        return self.length_mm(when) - self.channel_mm


def planned_posts(
    laid: Laid, scene: Scene, plan: PlanMarks, marks: Marks, criteria: Criteria, draws: Draws
) -> tuple[PlannedPost, ...]:
    """Return every post of a plan, from front to back.

    Parameters
    ----------
    laid : where the plan lies on the rim
    scene, plan, marks : the photo, what is planned, and the document
    criteria : the studio's limits, for the spare length
    draws : Draws
    """
    lengths = scene.rim.view.channels(laid, draws)
    ends = plan.jewellery.top.end(), plan.jewellery.bottom.end()
    stock = _stock(marks, plan.jewellery.post_mm)
    found = []
    for i, label in enumerate(laid.labels):
        entry, exit_, channel = laid.entry_mm[i], laid.exit_mm[i], lengths[i]
        room = _room(label, entry, exit_, scene, marks, draws)
        first, later = (_length(channel, stock, criteria, plan, when) for when in WHENS)
        worn = (
            worn_post("now", first[0], channel, ends, room, plan.room.needs()),
            worn_post("downsized", later[0], channel, ends, room, plan.room.needs()),
        )
        reach = max(worn[1].length_mm - float(channel.mean()), 0.0) / 2.0
        found.append(
            PlannedPost(
                label,
                entry,
                exit_,
                channel,
                plan.jewellery.post_mm,
                worn,
                (first[1], later[1]),
                (_seated(entry, exit_, scene, ends, 0), _seated(entry, exit_, scene, ends, 1)),
                _fold(entry, exit_, scene, ends[1], reach),
                room,
            )
        )
    return tuple(found)


WHENS: tuple[When, When] = ("now", "downsized")


def _stock(marks: Marks, post_mm: float) -> tuple[PostStock, ...]:
    stock = marks.posts or default_stock()
    same = tuple(each for each in stock if each.gauge_mm == post_mm)
    return same or stock


def _length(
    channel: Array, stock: tuple[PostStock, ...], criteria: Criteria, plan: PlanMarks, when: When
) -> tuple[float, bool]:
    """Return the length to put in, and whether it has to be ordered."""
    given = plan.jewellery.first_mm if when == "now" else plan.jewellery.later_mm
    if given is not None:
        return given, False
    window = criteria.limits["spare_initial" if when == "now" else "spare_downsized"]
    choice = choose_post(channel, stock, window, criteria.limits["post"])
    if isinstance(choice, PostChoice):
        return choice.length_mm, False
    return choice.order_length_mm, True


def _room(
    label: str, entry: Array, exit_: Array, scene: Scene, marks: Marks, draws: Draws
) -> Array | None:
    """Return draws from exit to the next structure, where one is marked near, (M,) mm."""
    way = (exit_ - entry) / np.hypot(*(exit_ - entry))
    near: list[tuple[float, Array]] = []
    for placement in scene.photo.placements:
        if placement.exit is not None and placement.below is not None:
            out, below = scene.to_mm(np.array([placement.exit, placement.below]))
            near.append((float(np.hypot(*(out - exit_))), below))
    if not near or min(near, key=lambda each: each[0])[0] > NEAR_MM:
        return None
    below = min(near, key=lambda each: each[0])[1]
    scale = Input.scalar(SCALE_COMMON, 0.0, scene.rim.view.u_scale, shared=True).draw(draws)[0]
    noise = np.sqrt(2.0) * U_MARK_MM * draws.normal(f"room below: {label}")
    return np.asarray(float((below - exit_) @ way) * (1.0 + scale) + noise)


def _seated(entry: Array, exit_: Array, scene: Scene, ends: tuple[End, End], which: int) -> Seated:
    line = scene.rim.curve.outer_mm if which == 0 else scene.rim.curve.inner_mm
    normal = normal_at(line, entry if which == 0 else exit_)
    angle = seat_deg(exit_ - entry, normal)
    return Seated(float(angle), float(stands_off_mm(angle, ends[which])))


def _fold(entry: Array, exit_: Array, scene: Scene, end: End, reach_mm: float) -> float:
    """Return how far the lower end is from the fold's wall, mm; the skin it sits on left out."""
    line = scene.rim.curve.inner_mm
    away = np.hypot(*(line - exit_).T)
    wall = line[away > end.width_mm / 2.0 + BESIDE_MM]
    if len(wall) == 0:
        return float("inf")
    way = (exit_ - entry) / np.hypot(*(exit_ - entry))
    return disc_room_mm(wall, exit_, way, end, reach_mm)
