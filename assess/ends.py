"""Ends at true size: how they sit, what room they have, how much post stands out on each side.

Pure geometry on draws.  What is needed below the rim besides the end (swelling, needle, receiving
tool) are assumptions that a studio edits; no published number was found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.criteria import BASIS
from calibration.frames import Array

Shape = Literal["disc", "ball", "pointed"]
Style = Literal["labret", "barbell", "ring", "curved bar", "other"]

FIRST_STYLES: tuple[Style, ...] = ("labret", "barbell")
"""To begin with straight posts only (common practice, no source)."""

FLUSH_MM = 0.5
"""A disc whose far edge stands off by this at most sits flush (assumption)."""


@dataclass(frozen=True, slots=True)
class End:
    """An end of a post: its shape, how wide across the axis, how high along it (mm)."""

    shape: Shape
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if self.width_mm <= 0.0 or self.height_mm <= 0.0:
            raise ValueError("an end must have a width and a height over 0 mm")


Unsuitable = Literal["ring", "curved bar", "pointed end", "not straight", "outside thread"]


def unsuitable_first(style: Style, ends: tuple[End, End]) -> tuple[Unsuitable, ...]:
    """Return why jewellery is unsuitable to begin with, in no words; empty where it may be used.

    A ring or a curved bar presses a straight channel at its ends and turns in it; a pointed end
    snags.  Common practice, no source.
    """
    found: list[Unsuitable] = []
    if style in {"ring", "curved bar"}:
        found.append("ring" if style == "ring" else "curved bar")
    elif style not in FIRST_STYLES:
        found.append("not straight")
    if any(end.shape == "pointed" for end in ends):
        found.append("pointed end")
    return tuple(found)


@dataclass(frozen=True, slots=True)
class RoomNeeds:
    """What must fit below the exit besides the end, mm; each an assumption a studio edits.

    ``swelling_mm`` of the tissue at the exit; ``needle_mm`` that the needle's tip must come out
    by; ``tool_mm`` across the receiving tool that is held against the exit.
    """

    swelling_mm: float = 1.0
    needle_mm: float = 3.0
    tool_mm: float = 4.0
    basis: str = BASIS


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """Room left below the exit, (M,) mm draws, negative where it is short.

    ``worn_mm`` for what stands out below and swelling; ``pierced_mm`` for needle or tool,
    whichever needs more: they are there before the end is.
    """

    worn_mm: Array
    pierced_mm: Array


def room_below(room_mm: Array, exposed_mm: Array, end: End, needs: RoomNeeds) -> Room:
    """Return what is left of the room below when a post is worn, and when it is put in.

    Parameters
    ----------
    room_mm : (M,) array
        From the exit along the axis to the next structure.
    exposed_mm : (M,) array
        Of the post between exit and end.  Swelling takes its place as it grows, so only the
        larger of the two counts.
    """
    stands = np.maximum(exposed_mm, needs.swelling_mm) + end.height_mm
    return Room(room_mm - stands, room_mm - max(needs.needle_mm, needs.tool_mm))


def exposed_mm(spare_mm: Array, share_top: float = 0.5) -> tuple[Array, Array]:
    """Return how much of a post stands out above the entry and below the exit, (M,) mm each.

    The post slides in its channel, so nobody knows where it stands; half on each side is the
    middle of what may be, and all of it on either side the most (see ``leverage``).

    Parameters
    ----------
    spare_mm : (M,) array
        Post less channel; negative where the ends press, and then nothing stands out.
    share_top : which part of it is above, 0 to 1
    """
    if not 0.0 <= share_top <= 1.0:
        raise ValueError(f"'share_top' must lie in 0 to 1 (got {share_top})")
    free = np.maximum(spare_mm, 0.0)
    return share_top * free, (1.0 - share_top) * free


def leverage(exposed_mm_: Array, end: End, channel_mm: Array) -> Array:
    """Return how much longer the arm outside is than half the channel that holds it, (M,).

    What pushes the end sideways turns the post about the channel's middle: over 1 it has the
    longer arm, and the channel follows in time (common practice, no source).
    """
    return np.asarray((exposed_mm_ + end.height_mm) / (channel_mm / 2.0))


def stands_off_mm(seat_deg: Array, end: End) -> Array:
    """Return how far the far edge of a disc stands off the skin, (M,) mm: width times sin(seat).

    A disc square to the axis touches flat skin at one edge; the other is lifted by as much.

    Parameters
    ----------
    seat_deg : (M,) array
        Between the axis and the skin's normal there.
    """
    return np.asarray(end.width_mm * np.abs(np.sin(np.deg2rad(seat_deg))))


def seat_deg(axis: Array, normal: Array) -> Array:
    """Return the angle between axis and outward normal at an end, (...) deg, 0 to 90.

    Parameters
    ----------
    axis, normal : (..., 2) or (..., 3) arrays, of any length
    """
    dot = np.abs(np.sum(axis * normal, axis=-1))
    size = np.linalg.norm(axis, axis=-1) * np.linalg.norm(normal, axis=-1)
    return np.asarray(np.rad2deg(np.arccos(np.clip(dot / size, 0.0, 1.0))))


def normal_at(line: Array, place: Array, over_mm: float = 3.0) -> Array:
    """Return a contour's unit normal at its point nearest to a place, (2,); either way out.

    Parameters
    ----------
    line : (N, 2) array, mm, densely sampled
    place : (2,) array, mm
    over_mm : how long a stretch of it counts
    """
    away = np.hypot(*(line - place).T)
    nearest = int(np.argmin(away))
    near = line[np.hypot(*(line - line[nearest]).T) <= over_mm / 2.0]
    _, _, ways = np.linalg.svd(near - near.mean(axis=0))
    return np.asarray(ways[1])


def disc_room_mm(wall: Array, exit_mm: Array, axis: Array, end: End, reach_mm: float) -> float:
    """Return how far a worn end is from the fold's wall, mm in the rim's plane; negative inside.

    The end is seen edge-on: a bar across the axis, its near face ``reach_mm`` below the exit.

    Parameters
    ----------
    wall : (N, 2) array, mm
        What lies beside and below: the inner contour beyond where the end sits, or the scapha.
    exit_mm, axis : (2,) arrays
        Where the post comes out, and the unit vector on from there.
    """
    across = np.array([-axis[1], axis[0]])
    local = (wall - exit_mm) @ np.column_stack([across, axis])
    below = local[:, 1] - reach_mm
    aside = np.abs(local[:, 0]) - end.width_mm / 2.0
    beyond = np.maximum(-below, below - end.height_mm)
    outside = np.hypot(np.maximum(aside, 0.0), np.maximum(beyond, 0.0))
    inside = np.minimum(np.maximum(aside, beyond), 0.0)
    return float((outside + inside).min())
