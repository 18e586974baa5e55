"""From a marks file and what its photos say to the dots in space: who goes into the joint fit.

A photo takes part if its scale card was found; an ID-1 card or a ruler serves one view only.
"""

from __future__ import annotations

from collections.abc import Mapping

from assess.marks import CameraMarks, CardShift, Marks, PhotoMarks
from assess.reading import PhotoReading, given_camera, mirrored_lens
from assess.space import dots_in, print_prior
from calibration.lens import LensPrior, lens_prior
from calibration.photo import CaptureFacts, Photo, PhotoError
from calibration.view_photo import ViewPhoto, view_photo
from calibration.views import ViewsOutcome, measure_views

U_SHIFT_MM = 0.5
"""How much the card may have moved between photos, each axis, unless told (assumed)."""


def several_views(
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    readings: Mapping[str, PhotoReading],
    usual_px: Mapping[str, float],
    camera: CameraMarks | None = None,
) -> ViewsOutcome | None:
    """Return the dots that a visit's photos show, in space; None if under two show any.

    Parameters
    ----------
    marks : what was marked
    photos, readings : by file
    usual_px : standard uncertainty of a mark by hand in each photo, each axis, by file
    camera : a lens profile's camera, for photos whose marks bring none
    """
    views, scales = list[ViewPhoto](), []
    for entry in marks.photos:
        photo, reading = photos[entry.file], readings[entry.file]
        if isinstance(photo, PhotoError) or reading.seen is None or reading.fit is None:
            continue
        view = _view(entry, photo.facts, reading, usual_px[entry.file], marks.camera or camera)
        if view.marks:
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
    camera: CameraMarks | None,
) -> ViewPhoto:
    if reading.seen is None or reading.fit is None:
        raise ValueError(f"{entry.file!r} has no card")
    told = entry.camera or camera
    given = given_camera(told)
    prior = lens_prior(facts, *(given or (None, None)))
    if reading.mirrored:
        prior = mirrored_lens(prior, facts)
    seen = reading.seen
    printed = reading.scale.corrected(seen.card.corners_mm(seen.corner_ids))
    return view_photo(
        entry.file,
        lens_name(facts, prior, mirrored=reading.mirrored),
        prior,
        reading.fit,
        (seen.corners_px, printed),
        dots_in(entry, reading, usual_px),
    )


def lens_name(facts: CaptureFacts, prior: LensPrior, *, mirrored: bool) -> str:
    """Return what photos of one lens have in common: size, model, lens and zoom by EXIF, camera.

    A mirrored photo has a lens of its own: its centre lies on the other side.
    """
    told = (facts.width, facts.height, facts.make, facts.model, facts.lens)
    zoom = (facts.focal_mm, facts.focal_35mm, facts.digital_zoom)
    return repr((*told, *zoom, prior.camera, mirrored))
