"""Worn things: how far from both ends glasses, mask, headset, helmet, headband or hat touch.

The client puts it on for a photo with the card, and the piercer marks the line where it touches.
Clearance is the distance in the rim's plane from that line to the nearest of what stands out: the
end and the post below it, seen from the side.  One photo doesn't see depth: a strap that goes over
an end without touching the skin beside it isn't seen to.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.ends import End
from assess.spacing import between_segments
from assess.worn_post import When
from calibration.draws import Draws
from calibration.frames import Array
from calibration.inputs import Input
from calibration.quantity import Quantity

CLOSE_MM = 2.0
"""Nearer than this is close: what is worn moves by as much (assumption: common practice)."""
SURE = 0.95

Thing = Literal["glasses", "mask", "headset", "helmet", "headband", "hat", "other"]
Says = Literal["touches", "close", "clear"]
SIDES = ("entry", "exit")


@dataclass(frozen=True, slots=True, eq=False)
class WornLine:
    """Where a worn thing touches, (N, 2) mm in the rim's plane, and the u of a mark of it, mm."""

    thing: Thing
    line_mm: Array
    u_mark_mm: float = 0.2
    name: str = ""

    def __post_init__(self) -> None:
        if len(self.line_mm) < 2:
            raise ValueError(f"'line_mm' must have at least 2 points (got {len(self.line_mm)})")


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """A post's ends in the rim's plane, mm, with the u of each mark, and what is on them.

    ``exposed_mm`` are (M,) draws of what stands out at the entry and at the exit.
    """

    label: str
    entry_mm: Array  # (2,)
    exit_mm: Array  # (2,)
    ends: tuple[End, End]
    exposed_mm: tuple[Array, Array]
    u_mark_mm: float = 0.2


@dataclass(frozen=True, slots=True)
class WearClearance:
    """How far a worn thing is from one end, mm; 0 where they meet."""

    thing: Thing
    name: str
    label: str
    side: Literal["entry", "exit"]
    when: When
    distance: Quantity
    touch_probability: float
    says: Says


def wear_clearance(
    worn: WornLine,
    site: Site,
    when: When,
    draws: Draws,
    u_scale: float = 0.006,
    close_mm: float = CLOSE_MM,
) -> tuple[WearClearance, WearClearance]:
    """Return the clearance from entry and exit of one post.

    Touches: the distance is at most 0 with a probability of a half or more.  Clear: it is at least
    ``close_mm`` with 0.95.  Else it is close, which is also what isn't known well enough.

    Parameters
    ----------
    worn, site : the line, and the post
    when : now or after downsizing; only a name here, ``site`` holds what stands out
    draws : Draws
    u_scale : relative u of the photo's millimetres, shared by all in it
    close_mm : what counts as clear
    """
    scale = 1.0 + Input.scalar("print scale", 0.0, u_scale, shared=True).draw(draws)[0]
    line = worn.line_mm[:, :, None] + _shifts(f"worn: {worn.thing} {worn.name}", worn, draws)
    ends = (site.entry_mm, site.exit_mm)
    own = [
        np.asarray(end)[:, None] + site.u_mark_mm * draws.normal(f"{site.label}/{side}", 2).T
        for end, side in zip(ends, SIDES, strict=True)
    ]
    found = []
    for i, side in enumerate(SIDES):
        away = own[i] - own[1 - i]
        out = away / np.hypot(away[0], away[1])
        distance = scale * _from_end(line, own[i], out, site.exposed_mm[i], site.ends[i])
        touches = float(np.mean(distance <= 0.0))
        clear = float(np.mean(distance >= close_mm)) >= SURE
        says: Says = "touches" if touches >= 0.5 else "clear" if clear else "close"
        told = Quantity.from_draws(distance, "mm")
        kind: Literal["entry", "exit"] = "entry" if side == "entry" else "exit"
        found.append(
            WearClearance(worn.thing, worn.name, site.label, kind, when, told, touches, says)
        )
    return found[0], found[1]


def _shifts(name: str, worn: WornLine, draws: Draws) -> Array:
    count = len(worn.line_mm)
    noise = draws.normal(name, 2 * count).T.reshape(count, 2, draws.count)
    return np.asarray(worn.u_mark_mm * noise)


def _from_end(line: Array, place: Array, out: Array, exposed: Array, end: End) -> Array:
    """Return the distance from a line to an end and the post under it, (M,) mm; 0 if they meet.

    Parameters
    ----------
    line : (N, 2, M) array
    place, out : (2, M) arrays
        Where the skin is pierced, and the unit vector outward along the axis.
    exposed : (M,) array
    """
    across = np.stack([-out[1], out[0]])
    half = end.width_mm / 2.0
    near, far = place + exposed * out, place + (exposed + end.height_mm) * out
    corners = [near - half * across, near + half * across, far + half * across, far - half * across]
    sides = [(corners[i], corners[(i + 1) % 4]) for i in range(4)]
    sides.append((place, near))
    found = [
        between_segments(line[k].T, line[k + 1].T, a.T, b.T)
        for k in range(len(line) - 1)
        for a, b in sides
    ]
    inside = _inside(line, near, out, across, end)
    return np.where(inside, 0.0, np.minimum.reduce(found))


def _inside(line: Array, near: Array, out: Array, across: Array, end: End) -> Array:
    """Return in which draws some point of the line lies in the end itself, (M,)."""
    to = line - near
    along, aside = np.sum(to * out, axis=1), np.sum(to * across, axis=1)
    hit = (along >= 0.0) & (along <= end.height_mm) & (np.abs(aside) <= end.width_mm / 2.0)
    return np.asarray(hit.any(axis=0))
