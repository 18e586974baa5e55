"""The placements of one photo -> their axes as draws: one view in the rim's plane."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assess.band_model import BAND_MODEL, BandModel
from assess.budget import span_budget
from assess.channel import Axis, angle_deg, edge_error, elevation_deg
from assess.marks import Marks, PhotoMarks, PlacementMarks
from assess.one_view import MarkedView, in_rim_plane
from assess.reading import ONE_VIEW_TILT_DEG, U_MARK_MM, PhotoReading
from assess.rim_plane import PlaneDraws, plane_draws
from calibration.draws import Draws
from calibration.frames import UP, Array

HEAD_UP = ("head up/from", "head up/to")


def both_ends(placement: PlacementMarks | None) -> bool:
    """Return whether entry and exit are both marked."""
    return placement is not None and placement.entry is not None and placement.exit is not None


def mark_sigma_px(photo: PhotoMarks, reading: PhotoReading, offset_mm: float) -> float:
    """Return the standard uncertainty of a mark in this photo, each axis, px."""
    if photo.sigma_px is not None:
        return photo.sigma_px
    return U_MARK_MM / reading.mm_per_px(offset_mm)


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
) -> dict[str, Axis]:
    """Return the axes of those placements of one photo."""
    view = marked_view(photo, reading, marks.rim_plane.offset_mm)
    plane = plane_draws(marks.rim_plane, draws)
    places = in_rim_plane(view, plane, reading.scale.draw(draws), draws)
    return {
        label: _axis(label, photo, view, marks, reading, places, plane, draws, model)
        for label in labels
    }


def _axis(
    label: str,
    photo: PhotoMarks,
    view: MarkedView,
    marks: Marks,
    reading: PhotoReading,
    places: Array,
    plane: PlaneDraws,
    draws: Draws,
    model: BandModel,
) -> Axis:
    placement = photo.placement(label)
    if placement is None:
        raise ValueError(f"{label!r} isn't marked in {photo.file!r}")
    ends = (f"{label}/entry", f"{label}/exit")
    top, bottom = (places[:, view.index(end)] for end in ends)
    centre = np.broadcast_to(view.fit.centre_mm, top.shape)
    rise = elevation_deg(top, bottom, centre, plane.normal())
    edges = edge_error(placement, model, rise, draws)
    parts = span_budget(
        view, ends, marks.rim_plane, reading.scale.u_vector(), reading.scale.u_common
    )
    if edges.any():
        outlined = set(placement.outline)
        parts["visible band for the channel"] = model.variance_mm2(outlined)
    channel = np.linalg.norm(top - bottom, axis=-1) - edges.sum(axis=1)
    return Axis(
        np.maximum(channel, 0.0),
        _room_below(label, view, places, bottom, edges[:, 1]),
        angle_deg(top, bottom, _up(view, places), marks.side),
        (top + bottom) / 2,
        parts,
    )


def _room_below(
    label: str, view: MarkedView, places: Array, bottom: Array, edge: Array
) -> Array | None:
    name = f"{label}/below"
    if name not in view.points_px:
        return None
    below = places[:, view.index(name)]
    return np.asarray(np.linalg.norm(below - bottom, axis=-1) + edge)


def _up(view: MarkedView, places: Array) -> Array:
    """Return "up" in the card's plane: along the head where that is marked, else the card's."""
    if HEAD_UP[0] not in view.points_px:
        return UP
    start, end = (places[:, view.index(name), :2] for name in HEAD_UP)
    return np.asarray((end - start) / np.linalg.norm(end - start, axis=-1, keepdims=True))
