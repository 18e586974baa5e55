"""From a marks file and what its photos say to the dots in space: who goes into the joint fit.

A photo takes part if its scale card was found; an ID-1 card or a ruler serves one view only.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from assess.marks import CardShift, Marks, PhotoMarks
from assess.reading import PhotoReading
from assess.space import MOVED_LINE, TIE, dots_in, point_name, print_prior
from calibration.draws import Draws
from calibration.frames import UP, Array
from calibration.lens import LensPrior
from calibration.photo import CaptureFacts, Photo, PhotoError
from calibration.view_photo import Mark, ViewPhoto, view_photo
from calibration.views import ViewsOutcome, measure_views

U_SHIFT_MM = 0.5
"""How much the card may have moved between photos, each axis, unless told (assumed)."""


def several_views(
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    readings: Mapping[str, PhotoReading],
    usual_px: Mapping[str, float],
    also: Mapping[str, Mapping[str, Mark]] | None = None,
) -> ViewsOutcome | None:
    """Return the dots that a visit's photos show, in space; None if under two show any.

    Parameters
    ----------
    marks : what was marked
    photos, readings : by file
    usual_px : standard uncertainty of a mark by hand in each photo, each axis, by file
    also : by file what else is marked as points are, in the unmirrored picture
    """
    views, scales = list[ViewPhoto](), []
    for entry in marks.photos:
        photo, reading = photos[entry.file], readings[entry.file]
        if isinstance(photo, PhotoError):
            continue
        more = (also or {}).get(entry.file, {})
        view = _view(entry, photo.facts, reading, usual_px[entry.file], more)
        if view is not None and view.marks:
            views.append(view)
            scales.append(reading.scale)
    if len(views) < 2:
        return None
    shift = marks.card_shift or CardShift(u_mm=U_SHIFT_MM)
    return measure_views(views, shift.u_mm, print_prior(scales[0]))


def _view(
    entry: PhotoMarks,
    facts: CaptureFacts,
    reading: PhotoReading,
    usual_px: float,
    also: Mapping[str, Mark],
) -> ViewPhoto | None:
    seen, fit, prior = reading.seen, reading.fit, reading.lens
    if seen is None or fit is None or prior is None:
        return None
    printed = reading.scale.corrected(seen.card.corners_mm(seen.corner_ids))
    return view_photo(
        entry.file,
        lens_name(facts, prior, mirrored=reading.mirrored),
        prior,
        fit,
        (seen.corners_px, printed),
        {**dots_in(entry, reading, usual_px), **also},
    )


def lens_name(facts: CaptureFacts, prior: LensPrior, *, mirrored: bool) -> str:
    """Return what photos of one lens have in common: size, model, lens and zoom by EXIF, camera.

    A mirrored photo has a lens of its own: its centre lies on the other side.
    """
    told = (facts.width, facts.height, facts.make, facts.model, facts.lens)
    zoom = (facts.focal_mm, facts.focal_35mm, facts.digital_zoom)
    return repr((*told, *zoom, prior.camera, mirrored))


def assumed_in(marks: Marks) -> frozenset[str]:
    """Return the dots whose marks' u nobody told, and the card's movement if nobody told it."""
    names = {
        point_name(placement.label, kind)
        for photo in marks.photos
        if photo.sigma_px is None
        for placement in photo.placements
        for kind in placement.points()
        if kind not in {*placement.snapped, *placement.outline}
    }
    names |= {
        f"{TIE}{name}"
        for photo in marks.photos
        if photo.sigma_px is None and photo.u_ties_px is None
        for name in photo.ties
    }
    return frozenset(names | (set() if marks.card_shift else {MOVED_LINE}))


def upright(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    usual_px: Mapping[str, float],
    height_mm: float,
    draws: Draws,
) -> Array:
    """Return "up" in the card's plane, (2, M) or (2, 1): along the head where that is marked.

    Of several photos that have it marked the least tilted one counts.  Without any, it is the
    card's up.

    Parameters
    ----------
    marks, readings, usual_px : as for `several_views`
    height_mm : of the rim over the card's plane, toward the viewer
    draws : Draws
    """
    able = [
        (reading.tilt_deg or 0.0, i)
        for i, entry in enumerate(marks.photos)
        if entry.head_up is not None and (reading := readings[entry.file]).fit is not None
    ]
    if not able:
        return UP.reshape(2, 1)
    entry = marks.photos[min(able)[1]]
    reading = readings[entry.file]
    if reading.fit is None or entry.head_up is None:
        return UP.reshape(2, 1)
    ends = reading.straight(np.array(entry.head_up))
    way = np.diff(reading.fit.on_plane(ends, height_mm), axis=0)[0]
    length_px = float(np.linalg.norm(ends[1] - ends[0]))
    off = draws.normal(f"head up: {entry.file}") * np.sqrt(2.0) * usual_px[entry.file] / length_px
    angle = np.arctan2(way[1], way[0]) + off
    return np.stack([np.cos(angle), np.sin(angle)])
