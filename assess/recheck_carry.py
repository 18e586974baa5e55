"""Two photos of one post in their planes, and the later one carried into the baseline's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.recheck_view import PlaneView
from calibration.frames import Array

TURN_MM = 20.0
"""An unknown turn counts in mm at this distance."""
PLANE_OF: Mapping[str, tuple[slice, slice]] = {
    "baseline": (slice(3, 4), slice(4, 6)),
    "now": (slice(6, 7), slice(7, 9)),
}
"""Where each visit's offset and tilt stand among the unknowns."""
DRAWN_OUT, SHEARED = slice(9, 11), slice(11, 12)
"""And where what tilts do by their squares: a tilted plane is foreshortened whichever way."""
UNKNOWNS = 12


@dataclass(frozen=True, slots=True)
class PlaneTold:
    """What is told of a visit's rim: u of its offset (mm) and of its tilt (rad, each axis)."""

    u_offset_mm: float
    u_tilt_rad: float


@dataclass(frozen=True, slots=True)
class PrintTold:
    """What is still open on a visit's print: relative u common, and by axis."""

    u_common: float
    u_axes: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two photos of one post, and what is told of each visit; ``same_print`` for one card."""

    baseline: PlaneView
    now: PlaneView
    planes: tuple[PlaneTold, PlaneTold]
    prints: tuple[PrintTold, PrintTold]
    same_print: bool

    def view_change(self, turn_rad: float) -> Array:
        """Return by how much the line of sight goes aside more than the baseline's, (2,)."""
        return np.asarray(turning(turn_rad) @ self.now.slope - self.baseline.slope)

    def view_change_deg(self, turn_rad: float) -> float:
        """Return the angle between both lines of sight, by the cards."""
        ways = [
            np.array([*way, 1.0])
            for way in (self.baseline.slope, turning(turn_rad) @ self.now.slope)
        ]
        cosine = ways[0] @ ways[1] / (np.linalg.norm(ways[0]) * np.linalg.norm(ways[1]))
        return float(np.rad2deg(np.arccos(np.clip(cosine, -1.0, 1.0))))

    def key(self, which: Literal["baseline", "now"], name: str) -> str:
        """Return an input's name: one for both visits if they share it, as a card's print."""
        shared = self.same_print and name in {"common", "axes"}
        return name if shared else f"{which}: {name}"

    @property
    def u_view(self) -> float:
        """Return the u of that, each axis: neither card shows how the rim is tilted."""
        first, later = self.planes
        return float(np.hypot(first.u_tilt_rad, later.u_tilt_rad))


def turning(rad: float) -> Array:
    """Return the turn of the plane by an angle, (2, 2)."""
    c, s = np.cos(rad), np.sin(rad)
    return np.array([[c, -s], [s, c]])


def carried(pair: Pair, unknowns: Array) -> Array:
    """Return all places of the later photo in the baseline's plane, (K, 2) mm."""
    now = pair.now
    at = now.places + _by_plane(now, unknowns, "now") - now.pivot
    turned = (at + at @ _strain(unknowns)) @ turning(unknowns[0] / TURN_MM).T
    return np.asarray(turned + pair.baseline.pivot + unknowns[1:3])


def _strain(unknowns: Array) -> Array:
    """Return by how much more the later plane is drawn out than the baseline's, (2, 2)."""
    (x, y), (xy,) = unknowns[DRAWN_OUT], unknowns[SHEARED]
    return np.array([[x, xy], [xy, y]])


def baseline_places(pair: Pair, unknowns: Array) -> Array:
    """Return the baseline's places at those unknowns, (K, 2) mm."""
    return np.asarray(pair.baseline.places + _by_plane(pair.baseline, unknowns, "baseline"))


def _by_plane(view: PlaneView, unknowns: Array, which: Literal["baseline", "now"]) -> Array:
    offset, tilt = PLANE_OF[which]
    moved = view.by["offset"] @ unknowns[offset] + view.by["tilt"] @ unknowns[tilt]
    return np.asarray(moved)


def carry_slopes(pair: Pair, unknowns: Array) -> tuple[Array, Array]:
    """Return how all places answer to the unknowns: baseline's (K, 2, P), later ones' (L, 2, P)."""
    first = np.zeros((*pair.baseline.places.shape, UNKNOWNS))
    later = np.zeros((*pair.now.places.shape, UNKNOWNS))
    turn = turning(unknowns[0] / TURN_MM)
    for view, out, which, by in (
        (pair.baseline, first, "baseline", np.eye(2)),
        (pair.now, later, "now", turn),
    ):
        offset, tilt = PLANE_OF[which]
        out[:, :, offset] = np.einsum("ij,kjm->kim", by, view.by["offset"])
        out[:, :, tilt] = np.einsum("ij,kjm->kim", by, view.by["tilt"])
    arm = carried(pair, unknowns) - pair.baseline.pivot - unknowns[1:3]
    later[:, :, 0] = np.column_stack([-arm[:, 1], arm[:, 0]]) / TURN_MM
    later[:, 0, 1] = later[:, 1, 2] = 1.0
    x, y = (pair.now.places - pair.now.pivot).T
    none = np.zeros_like(x)
    for column, move in enumerate(((x, none), (none, y), (y, x)), start=DRAWN_OUT.start):
        later[:, :, column] = np.column_stack(move) @ turn.T
    return first, later


def input_moves(view: PlaneView, told: PrintTold) -> dict[str, Array]:
    """Return what lens and print move of a view's places, by standardised components, (K, 2, m)."""
    return {
        "lens": view.by["lens"] @ view.lens_root,
        "common": view.by["common"] * told.u_common,
        "axes": view.by["axes"] * np.asarray(told.u_axes),
    }
