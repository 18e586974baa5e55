"""The truth of a placement: where a straight post meets the mesh, and what stands round it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from calibration.frames import Array
from sample_images.curves import UPPER_RIM
from sample_images.ears import Ear
from sample_images.shape import section

FAR_MM = 60.0
SCAN_MM = 0.05
BELOW_REACH_MM = 12.0


@dataclass(frozen=True, slots=True)
class Placement:
    """A post's way through the rim (ear frame, mm).

    ``entry`` is skin on top of the rim, ``exit`` skin under the fold, both on the axis; the
    axis lies in the rim's plane through the middle of its tissue, square to the rim's run.
    ``crest`` is the rim's most forward place in that section, ``floor`` the deepest of the
    scapha beside it, ``below`` where the axis next meets the ear or comes past its next ridge.
    """

    entry: Array
    exit: Array
    crest: Array
    floor: Array
    below: Array
    fold_depth_mm: float

    @property
    def channel_mm(self) -> float:
        """Return the straight way from entry to exit."""
        return float(np.linalg.norm(self.entry - self.exit))

    @property
    def relief_mm(self) -> float:
        """Return how far the crest stands out from the floor, along z."""
        return float(self.floor[2] - self.crest[2])

    @property
    def room_below_mm(self) -> float:
        """Return the way from exit to below along the axis."""
        axis = (self.entry - self.exit) / self.channel_mm
        return float((self.exit - self.below) @ axis)

    @property
    def points(self) -> dict[str, Array]:
        """Return the points by the names that the marks use."""
        return {
            "entry": self.entry,
            "exit": self.exit,
            "crest": self.crest,
            "floor": self.floor,
            "below": self.below,
        }


def place(ear: Ear, s: float) -> Placement | None:
    """Return the placement at ``s``, 0 at the front of the usable rim and 1 at its back.

    None where the axis does not come out under the fold within 14 mm.
    """
    t = UPPER_RIM[0] + s * (UPPER_RIM[1] - UPPER_RIM[0])
    at, outward = ear.line.place(t)
    half = float(section(ear.parameters, np.array([t]))[0][0])
    through = ear.crossings(np.array([*at, -FAR_MM]), np.array([0.0, 0.0, 1.0]))
    if len(through) < 2:
        return None
    deep = float(section(ear.parameters, np.array([t]))[2][0])
    depth = deep + ear.parameters.axis_deep_mm
    inward = np.array([-outward[0], -outward[1], 0.0])
    start = np.array([*(at + 14.0 * outward), depth])
    crossings = ear.crossings(start, inward)
    before, after = crossings[crossings < 14.0], crossings[crossings > 14.0]
    if len(before) % 2 == 0 or len(after) == 0 or after[0] - before[-1] > 14.0:
        return None
    entry, exit_ = start + before[-1] * inward, start + after[0] * inward
    middle = (entry + exit_) / 2
    depths = ear.crossings(np.array([middle[0], middle[1], -FAR_MM]), np.array([0.0, 0.0, 1.0]))
    crest, floor, ridge = _profile(ear, at, outward, half)
    below = exit_ + (after[1] - after[0]) * inward if len(after) > 1 else None
    if below is None or after[1] - after[0] > BELOW_REACH_MM:
        level = exit_ + ((exit_ - ridge) @ -inward) * inward
        below = np.array([level[0], level[1], ridge[2]])
    return Placement(entry, exit_, crest, floor, below, float(depths[1] - depths[0]))


def _profile(ear: Ear, at: Array, outward: Array, half: float) -> tuple[Array, Array, Array]:
    """Return crest, scapha floor and the next ridge's near edge of the section at a place."""
    u = np.arange(half, -half - 16.0, -SCAN_MM)
    rays = np.column_stack([at + u[:, None] * outward, np.full(len(u), -FAR_MM)])
    hits = ear.hits(rays, np.tile([0.0, 0.0, 1.0], (len(u), 1)))
    z = hits[:, 2]
    rim = np.abs(u) <= half
    top = int(np.flatnonzero(rim)[np.nanargmin(z[rim])])
    inner = np.flatnonzero((u < -half + 0.3) & (u > -half - 7.0))
    low = int(inner[np.nanargmax(z[inner])])
    beyond = np.flatnonzero(u < u[low])
    peak = int(beyond[np.nanargmin(z[beyond])])
    rise = np.flatnonzero((np.arange(len(u)) >= low) & (z <= (z[low] + z[peak]) / 2))
    edge = int(rise[0]) if len(rise) else peak
    return hits[top], hits[low], hits[edge]
