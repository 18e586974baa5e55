"""The measurands of several views: lengths in space, from the pen dots that a joint fit gives.

Places are in the card's frame, in its mean place against the ear.  What the print's scale leaves
open is one of the joint fit's unknowns, by the same name and draws as in one view.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.channel import Axis, angle_deg
from assess.marks import PhotoMarks
from assess.reading import PhotoReading
from assess.scale import PrintScale
from calibration.adjust import PrintPrior
from calibration.draws import Draws
from calibration.frames import TOWARD_VIEWER, UP, Array
from calibration.space_points import SpacePoints
from calibration.view_photo import Mark
from calibration.views import ViewsSolved

TIE = "tie: "
"""What the name of a spare dot begins with among the points."""

LINES = {
    "card corners": "card corners, pose and lens",
    "lens": "card corners, pose and lens",
    "card moved": "movement of the card between the photos",
    "scale of the print": "scale of the print",
}
"""The joint fit's inputs -> the budget's lines."""


@dataclass(frozen=True, slots=True)
class SpacePlacement:
    """A placement as several views give it; None where its dots aren't triangulated.

    ``axis`` is what one view would give, measured in space; ``lean_deg`` (M,) how far the axis
    leans outward, out of the card's plane toward the viewer, from exit to entry; ``relief_mm``
    (M,) from crest to floor along the card's normal.  The parts are those of the variance, mm².
    """

    label: str
    axis: Axis | None
    lean_deg: Array | None
    relief_mm: Array | None
    relief_parts_mm2: Mapping[str, float]
    seen_in: Mapping[str, tuple[str, ...]]


def point_name(label: str, kind: str) -> str:
    """Return the name of a placement's point; marks of one view go by the same."""
    return f"{label}/{kind}"


def dots_in(photo: PhotoMarks, reading: PhotoReading, usual_px: float) -> dict[str, Mark]:
    """Return the pen dots of a photo: what may be triangulated.

    Marks on a visible edge are left out: two photos see two different places there.

    Parameters
    ----------
    photo : what is marked in it
    reading : of the same photo
    usual_px : standard uncertainty of a mark by hand, each axis
    """
    points: dict[str, tuple[tuple[float, float], float]] = {}
    for placement in photo.placements:
        for kind, point in placement.points().items():
            if kind not in placement.outline:
                u = placement.u_px or 0.0 if kind in placement.snapped else usual_px
                points[point_name(placement.label, kind)] = (point, u)
    u_ties = usual_px if photo.u_ties_px is None else photo.u_ties_px
    points |= {f"{TIE}{name}": (point, u_ties) for name, point in photo.ties.items()}
    if not points:
        return {}
    straight = reading.straight(np.array([point for point, _ in points.values()]))
    return {
        name: Mark((float(x), float(y)), u)
        for (name, (_, u)), (x, y) in zip(points.items(), straight, strict=True)
    }


@dataclass(frozen=True)
class Space:
    """The dots in space with their draws, (M, K, 3) mm."""

    solved: ViewsSolved
    draws: Array

    @property
    def points(self) -> SpacePoints:
        """Return the dots with their covariance."""
        return self.solved.points

    def has(self, *names: str) -> bool:
        """Return whether all those points are triangulated."""
        return all(name in self.points.names for name in names)

    def of(self, name: str) -> Array:
        """Return a point's draws, (M, 3) mm."""
        return np.asarray(self.draws[:, self.points.names.index(name)])


def print_prior(scale: PrintScale) -> PrintPrior:
    """Return how well the print's scale is known, as the joint fit takes it."""
    return PrintPrior(scale.u_axes, scale.u_common)


def in_space(solved: ViewsSolved, draws: Draws) -> Space:
    """Return the draws of all dots that several views triangulate."""
    return Space(solved, solved.points.draw(draws))


def placement_in_space(label: str, space: Space, side: str, up: Array = UP) -> SpacePlacement:
    """Return what several views say of one placement.

    Parameters
    ----------
    label : the placement's
    space : the dots
    side : which ear it is, ``left`` or ``right``
    up : (2,) or (M, 2) array
        Up in the card's plane: along the upright head where that is known.
    """
    seen = {name: photos for name, photos in space.solved.seen_in.items() if _label(name) == label}
    axis, lean = _axis(label, space, side, up)
    relief, parts = _relief(label, space)
    return SpacePlacement(label, axis, lean, relief, parts, seen)


def _label(name: str) -> str:
    return "" if name.startswith(TIE) else name.rsplit("/", 1)[0]


def _axis(label: str, space: Space, side: str, up: Array) -> tuple[Axis | None, Array | None]:
    top, bottom, below = (point_name(label, kind) for kind in ("entry", "exit", "below"))
    if not space.has(top, bottom):
        return None, None
    entry, exit_ = space.of(top), space.of(bottom)
    along = entry - exit_
    channel = np.linalg.norm(along, axis=1)
    room = None
    if space.has(below):
        room = np.linalg.norm(space.of(below) - exit_, axis=1)
    lean = np.rad2deg(np.arcsin(np.clip(along @ TOWARD_VIEWER / channel, -1.0, 1.0)))
    angle = angle_deg(entry, exit_, up, "right" if side == "right" else "left")
    axis = Axis(channel, room, angle, (entry + exit_) / 2, _span_parts(space, top, bottom, None))
    return axis, np.asarray(lean)


def _relief(label: str, space: Space) -> tuple[Array | None, Mapping[str, float]]:
    crest, floor = (point_name(label, kind) for kind in ("crest", "floor"))
    if not space.has(crest, floor):
        return None, {}
    relief = (space.of(crest) - space.of(floor)) @ TOWARD_VIEWER
    return np.asarray(relief), _span_parts(space, crest, floor, TOWARD_VIEWER)


def _span_parts(space: Space, start: str, end: str, along: Array | None) -> dict[str, float]:
    """Return the first-order parts of the variance of a span, mm², by the budget's lines.

    ``along`` is the direction in which it counts, else its own.
    """
    points = space.points
    gap = points.place(start) - points.place(end)
    way = gap / np.linalg.norm(gap) if along is None else along
    slope = np.zeros(points.at_mm.size)
    slope[points.rows(start)], slope[points.rows(end)] = way, -way
    lines: dict[str, float] = {}
    for kind, part in points.variance_of(slope).items():
        line = _line(kind, {start, end})
        lines[line] = lines.get(line, 0.0) + part
    return {line: part for line, part in lines.items() if part > 0.0}


def _line(kind: str, ends: set[str]) -> str:
    """Return the budget's line of an input of the joint fit."""
    if kind in LINES:
        return LINES[kind]
    name = kind.removeprefix("mark of ")
    if name in ends:
        return f"mark of the {name.rsplit('/', 1)[1]}"
    return "marks of the spare dots" if name.startswith(TIE) else "marks of the other dots"
