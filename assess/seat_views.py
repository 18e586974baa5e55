"""The seats of a visit's placements: by several views, else along the rim by one photo."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from assess.band import contours_of
from assess.edge_line import EdgeLine
from assess.marks import Marks, PhotoMarks
from assess.outlines import Outline, run_slope
from assess.reading import PhotoReading
from assess.seat import (
    EXIT_LEAN,
    U_EXIT_LEAN,
    EndSeat,
    Run,
    Seat,
    across_rim,
    along_rim,
    tangent_in,
    whole_angle,
)
from assess.space import Space, point_name
from calibration.draws import Draws
from calibration.frames import Array
from calibration.pose import PlaneFit

BOUND = 0.95
"""Of the draws of the whole angle: under it the angle lies in so many cases."""


def seat_in_views(
    label: str,
    space: Space,
    outlines: Sequence[Outline],
    inner_px: Array | None,
    side: str,
    draws: Draws,
) -> Seat:
    """Return the seat at both ends.

    Parameters
    ----------
    label : the placement's, both of whose ends are in ``space``
    space : the dots
    outlines : outer contours; the first is the one in whose plane the tangents are taken
    inner_px : (N, 2) array, the inner contour in the first one's photo
    side : which ear it is, ``left`` or ``right``
    draws : Draws
    """
    entry, exit_ = (space.of(point_name(label, end)) for end in ("entry", "exit"))
    axis = entry - exit_
    axis = axis / np.linalg.norm(axis, axis=0)
    middle, first = axis.mean(axis=1), outlines[0]
    face = 1.0 if side == "left" else -1.0
    upper = tangent_in(first.camera, first.contour_px, entry.mean(axis=1), middle, first.sigma_px)
    found = Seat()
    if upper is not None:
        found = Seat(_entry(entry, axis, outlines, upper, (face, label, draws)))
    if inner_px is not None:
        lower = tangent_in(first.camera, inner_px, exit_.mean(axis=1), middle, first.sigma_px)
        if lower is not None:
            slope = _slope(outlines, entry, middle, lower)
            lean = EXIT_LEAN + U_EXIT_LEAN * draws.normal(f"seat: skin at the exit of {label}")
            run = None if slope is None else Run(slope, lean)
            along = along_rim(axis[:2], lower, face, (draws, label, "exit"), run)
            found = Seat(found.entry, EndSeat(along))
    return found


def _entry(
    entry: Array,
    axis: Array,
    outlines: Sequence[Outline],
    tangent: EdgeLine,
    told: tuple[float, str, Draws],
) -> EndSeat:
    face, label, draws = told
    middle = axis.mean(axis=1)
    lean = across_rim(outlines, entry, _out(tangent, middle), draws)
    slope = _slope(outlines, entry, middle, tangent)
    run = None if lean is None or slope is None else Run(slope, np.tan(lean))
    along_deg = along_rim(axis[:2], tangent, face, (draws, label, "entry"), run)
    if lean is None:
        return EndSeat(along_deg)
    across, whole = whole_angle(axis, along_deg, lean)
    return EndSeat(along_deg, across, float(np.quantile(whole, BOUND)))


def _slope(
    outlines: Sequence[Outline], entry: Array, axis: Array, tangent: EdgeLine
) -> float | None:
    """Return the rim's slope by its outer contours along a tangent, also of the inner contour."""
    return run_slope(outlines, entry.mean(axis=1), _out(tangent, axis), tangent.along)


def _out(tangent: EdgeLine, axis: Array) -> Array:
    """Return a contour's normal in the card's plane, (2,), the way that the axis goes, (3,)."""
    normal = np.array([tangent.along[1], -tangent.along[0]])
    return np.asarray(normal * np.sign(normal @ axis[:2]))


def outlines_in(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    usual_px: Mapping[str, float],
    space: Space,
) -> list[tuple[Outline, Array | None]]:
    """Return the contours of the photos that were measured together, the least tilted first.

    Each outer contour with the inner one of its photo, where that is marked.
    """
    found = space.solved.found
    places = {photo.name: i for i, photo in enumerate(found.problem.photos)}
    out: list[tuple[float, int, Outline, Array | None]] = []
    for photo in marks.photos:
        if photo.outer_rim is not None and photo.file in places:
            reading = readings[photo.file]
            inner = photo.inner_rim
            outline = Outline(
                photo.file,
                found.camera(places[photo.file]),
                reading.straight(np.array(photo.outer_rim)),
                usual_px[photo.file],
            )
            below = None if inner is None else reading.straight(np.array(inner))
            out.append((reading.tilt_deg or 0.0, len(out), outline, below))
    return [(outline, below) for _, _, outline, below in sorted(out, key=lambda each: each[:2])]


def seats_in_views(
    marks: Marks,
    lines: Sequence[tuple[Outline, Array | None]],
    space: Space,
    draws: Draws,
) -> dict[str, Seat]:
    """Return the seat of every placement both of whose ends are in space; none if not traced.

    ``lines`` are from ``outlines_in``.
    """
    if not lines:
        return {}
    outer, inner = [outline for outline, _ in lines], lines[0][1]
    return {
        label: seat_in_views(label, space, outer, inner, marks.side, draws)
        for label in marks.labels()
        if space.has(point_name(label, "entry"), point_name(label, "exit"))
    }


def seat_in_photo(
    photo: PhotoMarks,
    label: str,
    reading: PhotoReading,
    marks: Marks,
    usual_px: float,
    draws: Draws,
) -> Seat:
    """Return a placement's seat along the rim as one photo shows it, if its contours are traced."""
    contours, fit, placement = contours_of(photo), reading.fit, photo.placement(label)
    if contours is None or fit is None or placement is None:
        return Seat()
    if placement.entry is None or placement.exit is None:
        return Seat()
    height = marks.rim_plane.offset_mm
    ends = reading.straight(np.array([placement.entry, placement.exit]))
    flat = fit.on_plane(ends, height)
    axis = (flat[0] - flat[1])[:, None]
    for name, end, sign in zip(("entry", "exit"), ends, (1.0, -1.0), strict=True):
        u = (placement.u_px or 0.0) if name in placement.snapped else usual_px
        hit = draws.normal(f"seat: {photo.file}: {name} of {label}", 2).T
        axis = axis + sign * u * by_pixel(fit, end, height) @ hit
    face = 1.0 if marks.side == "left" else -1.0
    seats = {}
    for line, name, at in zip(contours, ("entry", "exit"), flat, strict=True):
        end_mm, way = np.array([*at, -height]), np.array([*axis.mean(axis=1), 0.0])
        tangent = tangent_in(fit, reading.straight(line), end_mm, way, usual_px)
        seats[name] = (
            EndSeat()
            if tangent is None
            else EndSeat(along_rim(axis, tangent, face, (draws, label, name), None))
        )
    return Seat(**seats)


def by_pixel(fit: PlaneFit, at_px: Array, height_mm: float) -> Array:
    """Return how a place on the plane answers to its pixel, (2, 2) mm/px."""
    step = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    at = fit.on_plane(at_px + step, height_mm)
    return np.asarray((at[1:] - at[0]).T)
