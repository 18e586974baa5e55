"""Where a placement's dots lie, for drawing it from two sides: places with their covariance.

Only what was measured: by several views three coordinates, by one view two, since one photo
can't tell depth.  Millimetres in the card's frame.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from assess.marks import Marks, PhotoMarks
from assess.outlines import Outline
from assess.reading import PhotoReading
from assess.seat_views import by_pixel
from assess.space import Space, point_name
from calibration.frames import Array

KINDS = ("entry", "exit", "crest", "floor", "below")


@dataclass(frozen=True, slots=True)
class Place:
    """A dot: (3,) mm and its covariance, (3, 3) mm²; depth NaN where one view can't tell it."""

    at_mm: Array
    covariance: Array


@dataclass(frozen=True, slots=True)
class TwoSides:
    """A placement's dots by kind, and the rim's contours in their plane, (N, 2) mm, if traced."""

    places: Mapping[str, Place]
    outer_mm: Array | None = None
    inner_mm: Array | None = None


def sides_in_space(
    label: str, space: Space, lines: Sequence[tuple[Outline, Array | None]]
) -> TwoSides:
    """Return a placement's dots as several views place them.

    Parameters
    ----------
    label : the placement's, both of whose ends are in ``space``
    space : the dots
    lines : outer contours with the inner one of the same photo, the least tilted first
    """
    places = {}
    for kind in KINDS:
        name = point_name(label, kind)
        if space.has(name):
            draws = space.of(name)
            places[kind] = Place(draws.mean(axis=1), np.cov(draws))
    if not lines:
        return TwoSides(places)
    outline, inner = lines[0]
    height = -float((places["entry"].at_mm[2] + places["exit"].at_mm[2]) / 2)
    outer = outline.camera.on_plane(outline.contour_px, height)
    return TwoSides(
        places, outer, None if inner is None else outline.camera.on_plane(inner, height)
    )


def sides_in_photo(
    photo: PhotoMarks, label: str, reading: PhotoReading, marks: Marks, usual_px: float
) -> TwoSides | None:
    """Return a placement's marks in the rim's plane, as one photo shows them; None without fit."""
    fit, placement = reading.fit, photo.placement(label)
    if fit is None or placement is None:
        return None
    height, places = marks.rim_plane.offset_mm, {}
    for kind, point in placement.points().items():
        if kind in {"crest", "floor"}:  # they lie off the plane, and one photo can't tell how far
            continue
        at = reading.straight(np.array([point]))[0]
        u = (placement.u_px or 0.0) if kind in placement.snapped else usual_px
        root = u * by_pixel(fit, at, height)
        covariance = np.full((3, 3), np.nan)
        covariance[:2, :2] = root @ root.T
        places[kind] = Place(np.append(fit.on_plane(at[None], height)[0], np.nan), covariance)
    outer, inner = (
        None if line is None else fit.on_plane(reading.straight(np.array(line)), height)
        for line in (photo.outer_rim, photo.inner_rim)
    )
    return TwoSides(places, outer, inner)
