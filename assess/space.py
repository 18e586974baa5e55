"""The measurands of several views: lengths in space, from the pen dots that a joint fit gives.

Places are in the card's frame, in its mean place against the ear.  What the print's scale leaves
open is one of the joint fit's unknowns, by the same name and draws as in one view.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.budget import Line
from assess.channel import Axis
from assess.marks import PhotoMarks
from assess.reading import PhotoReading
from assess.scale import SCALE_LINE, PrintScale
from assess.view_model import angle_deg
from calibration.draws import Draws
from calibration.frames import TOWARD_VIEWER, UP, Array
from calibration.inputs import ASSUMED_DOF, Basis
from calibration.joint_problem import CORNERS_KIND, LENS_KIND, MOVED_KIND, PRINT_KIND, PrintPrior
from calibration.space_points import SpacePoints
from calibration.view_photo import Mark
from calibration.views import ViewsSolved

TIE = "tie: "
"""What the name of a spare dot begins with among the points."""

CORNERS_LINE = "card corners, pose and lens"
MOVED_LINE = "movement of the card between the photos"
TIES_LINE, OTHERS_LINE = "marks of the spare dots", "marks of other dots"
LINES = {
    CORNERS_KIND: CORNERS_LINE,
    LENS_KIND: CORNERS_LINE,
    MOVED_KIND: MOVED_LINE,
    PRINT_KIND: SCALE_LINE,
}
"""The joint fit's inputs -> the budget's lines."""


@dataclass(frozen=True, slots=True)
class SpacePlacement:
    """A placement as several views give it; None where its dots aren't triangulated.

    ``axis`` is what one view would give, measured in space; its angle is how far it leans
    forward.  ``lean_deg`` (M,) is how far it leans outward, out of the card's plane toward the
    viewer, from exit to entry; ``relief_mm`` (M,) from crest to floor along the card's normal.
    """

    label: str
    axis: Axis | None
    lean_deg: Array | None
    relief_mm: Array | None
    relief_lines: tuple[Line, ...]
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
    """The dots in space with their draws, (K, 3, M) mm.

    ``assumed`` names what nobody measured: dots whose marks' u is a default, and ``MOVED_LINE``
    where nobody said how far the card may have moved.
    """

    solved: ViewsSolved
    draws: Array
    assumed: frozenset[str] = frozenset()

    @property
    def points(self) -> SpacePoints:
        """Return the dots with their covariance."""
        return self.solved.points

    def has(self, *names: str) -> bool:
        """Return whether all those points are triangulated."""
        return all(name in self.points.names for name in names)

    def of(self, name: str) -> Array:
        """Return a point's draws, (3, M) mm."""
        return np.asarray(self.draws[self.points.names.index(name)])


def print_prior(scale: PrintScale) -> PrintPrior:
    """Return how well the print's scale is known, as the joint fit takes it."""
    return PrintPrior(scale.u_axes, scale.u_common)


def in_space(solved: ViewsSolved, draws: Draws, assumed: frozenset[str] = frozenset()) -> Space:
    """Return the draws of all dots that several views triangulate."""
    return Space(solved, solved.points.draw(draws), assumed)


def placement_in_space(label: str, space: Space, side: str, up: Array = UP) -> SpacePlacement:
    """Return what several views say of one placement.

    Parameters
    ----------
    label : the placement's
    space : the dots
    side : which ear it is, ``left`` or ``right``
    up : (2,) or (2, M) array
        Up in the card's plane: along the upright head where that is known.
    """
    seen = {name: photos for name, photos in space.solved.seen_in.items() if _label(name) == label}
    axis, lean = _axis(label, space, 1.0 if side == "left" else -1.0, up)
    crest, floor = (point_name(label, kind) for kind in ("crest", "floor"))
    if not space.has(crest, floor):
        return SpacePlacement(label, axis, lean, None, (), seen)
    relief = TOWARD_VIEWER @ (space.of(crest) - space.of(floor))
    return SpacePlacement(
        label, axis, lean, relief, _span_lines(space, crest, floor, TOWARD_VIEWER), seen
    )


def _label(name: str) -> str:
    return "" if name.startswith(TIE) else name.rsplit("/", 1)[0]


def _axis(label: str, space: Space, face: float, up: Array) -> tuple[Axis | None, Array | None]:
    top, bottom, below = (point_name(label, kind) for kind in ("entry", "exit", "below"))
    if not space.has(top, bottom):
        return None, None
    entry, exit_ = space.of(top), space.of(bottom)
    along = entry - exit_
    channel = np.linalg.norm(along, axis=0)
    room = None
    if space.has(below):
        room = np.linalg.norm(space.of(below) - exit_, axis=0)
    lean = np.rad2deg(np.arcsin(np.clip(TOWARD_VIEWER @ along / channel, -1.0, 1.0)))
    angle = angle_deg(along, up.reshape(2, -1), face)
    middle = ((entry + exit_) / 2).T
    lines = _span_lines(space, top, bottom, None)
    return Axis(channel, room, angle, middle, lines, "views"), lean


def _span_lines(space: Space, start: str, end: str, along: Array | None) -> tuple[Line, ...]:
    """Return the first-order budget of a span.

    ``along`` is the direction in which it counts, else its own.
    """
    points = space.points
    gap = points.place(start) - points.place(end)
    way = gap / np.linalg.norm(gap) if along is None else along
    slope = np.zeros(points.at_mm.size)
    slope[points.rows(start)], slope[points.rows(end)] = way, -way
    parts: dict[str, float] = {}
    assumed: dict[str, bool] = {}
    for kind, part in points.variance_of(slope).items():
        line = _line(kind, {start, end})
        parts[line] = parts.get(line, 0.0) + part
        name = kind.removeprefix("mark of ")
        assumed[line] = assumed.get(line, False) or bool({name, line} & space.assumed)
    return tuple(
        _told(line, part, assumed=assumed[line]) for line, part in parts.items() if part > 0.0
    )


def _told(line: str, variance: float, *, assumed: bool) -> Line:
    """Return a line with what stands behind it in words."""
    basis: Basis = "assumed" if assumed else "measured"
    source = "assumed" if assumed else "as told"
    if line == CORNERS_LINE:
        source = "the corners' residuals, the lens solved with them"
    return Line(line, variance, "normal", ASSUMED_DOF if assumed else np.inf, basis, source)


def _line(kind: str, ends: set[str]) -> str:
    """Return the budget's line of an input of the joint fit."""
    if kind in LINES:
        return LINES[kind]
    name = kind.removeprefix("mark of ")
    if name in ends:
        return f"mark of the {name.rsplit('/', 1)[1]}"
    return TIES_LINE if name.startswith(TIE) else OTHERS_LINE
