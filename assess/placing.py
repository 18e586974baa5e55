"""The placements of one photo -> their axes as draws: one view in the rim's plane."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assess.band_model import BAND_MODEL, BandModel
from assess.budget import budget_lines
from assess.channel import Axis
from assess.marks import Marks, PhotoMarks, PlacementMarks
from assess.one_view import HEAD_UP, MarkedView, sight
from assess.reading import ONE_VIEW_TILT_DEG, U_MARK_MM, PhotoReading
from assess.view_inputs import ViewMeasurement, plane_inputs, view_measurement
from assess.view_model import OUTPUTS, Ends
from calibration.draws import Draws
from calibration.first_order import FirstOrder, first_order
from calibration.frames import Array
from calibration.inputs import Input
from calibration.monte_carlo import propagate


def both_ends(placement: PlacementMarks | None) -> bool:
    """Return whether entry and exit are both marked."""
    return placement is not None and placement.entry is not None and placement.exit is not None


def mark_sigma_px(photo: PhotoMarks, reading: PhotoReading, offset_mm: float) -> float:
    """Return the standard uncertainty of a mark in this photo, each axis, px."""
    if photo.sigma_px is not None:
        return photo.sigma_px
    return U_MARK_MM / reading.mm_per_px(offset_mm)


def usual_marks_px(marks: Marks, readings: Mapping[str, PhotoReading]) -> dict[str, float]:
    """Return the standard uncertainty of a mark by hand in each photo, px, by file; 0 unfitted."""
    return {
        photo.file: 0.0
        if readings[photo.file].fit is None
        else mark_sigma_px(photo, readings[photo.file], marks.rim_plane.offset_mm)
        for photo in marks.photos
    }


def marked_view(photo: PhotoMarks, reading: PhotoReading, offset_mm: float) -> MarkedView:
    """Return the marks that one view measures, straightened and with their u."""
    if reading.fit is None:
        raise ValueError(f"{photo.file!r} has no fit")
    usual = mark_sigma_px(photo, reading, offset_mm)
    points: dict[str, tuple[float, float]] = {}
    sigma: dict[str, float] = {}
    for placement in photo.placements:
        for kind, point in placement.points().items():
            if kind in {"entry", "exit", "below"}:
                key = f"{placement.label}/{kind}"
                points[key] = point
                sigma[key] = (placement.u_px or 0.0) if kind in placement.snapped else usual
    pivots = frozenset(key for key in points if not key.endswith("/below")) or frozenset(points)
    if photo.head_up is not None:
        for name, point in zip(HEAD_UP, photo.head_up, strict=True):
            points[name], sigma[name] = point, usual
    straight = reading.straight(np.array(list(points.values())).reshape(-1, 2))
    places = {name: (float(x), float(y)) for name, (x, y) in zip(points, straight, strict=True)}
    return MarkedView(photo.file, reading.fit, places, sigma, pivots)


def view_of(label: str, marks: Marks, readings: Mapping[str, PhotoReading]) -> PhotoMarks | None:
    """Return the photo of least tilt that shows both ends and may be used for one view."""
    able = [
        (tilt, i)
        for i, photo in enumerate(marks.photos)
        if both_ends(photo.placement(label))
        and (tilt := readings[photo.file].tilt_deg) is not None
        and tilt <= ONE_VIEW_TILT_DEG
    ]
    return marks.photos[min(able)[1]] if able else None


def axes_in(
    photo: PhotoMarks,
    labels: list[str],
    marks: Marks,
    reading: PhotoReading,
    draws: Draws,
    model: BandModel = BAND_MODEL,
    plane: tuple[Input, Input] | None = None,
) -> dict[str, Axis]:
    """Return the axes of those placements of one photo.

    ``plane`` is the rim's offset and tilt where more is known than the marks tell.
    """
    view = measurement_in(photo, labels, marks, reading, model, plane)
    rows = propagate(view.folded, view.folded_inputs, draws)
    budgets = first_order(view.unfolded, view.inputs)
    wide = len(OUTPUTS)
    return {
        ends.label: _axis(rows[wide * i : wide * (i + 1)], ends, budgets[wide * i], view)
        for i, ends in enumerate(view.model.placements)
    }


def measurement_in(
    photo: PhotoMarks,
    labels: list[str],
    marks: Marks,
    reading: PhotoReading,
    model: BandModel = BAND_MODEL,
    plane: tuple[Input, Input] | None = None,
) -> ViewMeasurement:
    """Return the measurement model of those placements of one photo, with its inputs."""
    view = marked_view(photo, reading, marks.rim_plane.offset_mm)
    at = plane or plane_inputs(marks.rim_plane)
    return view_measurement(
        photo, labels, marks.side, sight(view), (*at, *reading.scale.inputs()), model
    )


def _axis(rows: Array, ends: Ends, channel: FirstOrder, view: ViewMeasurement) -> Axis:
    return Axis(
        rows[0],
        rows[1] if ends.below is not None else None,
        rows[2],
        rows[3:6].T,
        budget_lines(channel, view.inputs, ends.label),
    )
