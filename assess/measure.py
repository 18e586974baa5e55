"""The one pipeline: marks and photos -> a result.

Pure: decoded photos in, a result out.  Whoever confirms it is told by name; nothing here
decides that it may be saved or printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version

import numpy as np

from assess import plan_words, wording
from assess.band import contours_of, measure_band
from assess.band_model import BAND_MODEL
from assess.checks import refuse_marks_outside, refuse_nothing
from assess.criteria import DEFAULT_CRITERIA, Criteria
from assess.marks import CameraMarks, Marks
from assess.placements import placements, see
from assess.placing import mark_sigma_px
from assess.plan_measure import PlanDrawing, measure_plan
from assess.posts import default_stock
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading, read_view
from assess.report_placement import placement_out
from assess.result import BandOut, CriteriaOut, Judgement, PhotoOut, Result
from calibration.draws import Draws
from calibration.photo import Photo, PhotoError

DRAWS = 100_000


@dataclass(frozen=True, slots=True)
class Measurement:
    """A result and, for the picture, what each photo said."""

    result: Result
    readings: Mapping[str, PhotoReading]
    plan: PlanDrawing | None = None


@cache
def software() -> str:
    """Return the program's name and version as results carry it."""
    try:
        return f"rimspan {version('rimspan')}"
    except PackageNotFoundError:
        return "rimspan 0+unknown"


def measure(
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    *,
    criteria: Criteria = DEFAULT_CRITERIA,
    camera: CameraMarks | None = None,
    seed: int = 1,
    draws: int = DRAWS,
    confirmed_by: str | None = None,
    source: str = "marks",
    known: Mapping[str, PhotoReading] | None = None,
    visit: str = "",
) -> Measurement:
    """Return what the photos and marks say.

    Parameters
    ----------
    marks : what was marked, read and felt
    photos : each file of the marks, decoded, or why it couldn't be
    criteria : the studio's limits
    camera : a lens profile's camera, for photos whose marks bring none
    seed, draws : of the Monte Carlo
    confirmed_by : the piercer who confirmed this very result, if one has
    source : the marks file's name, for messages
    known : what these photos said before, by file, with no camera given
    visit : which of a client's visits; two visits share only the print of the card

    Raises
    ------
    MarksError
        If a mark lies outside its photo.
    NothingMarkedError, NotMeasurableError
        If there is neither a channel nor a band.
    """
    refuse_marks_outside(marks, photos, source)
    readings = read_photos(marks, photos, camera, known)
    drawing = Draws(seed, draws, visit)
    at = see(marks, photos, readings, drawing)
    founds = placements(marks, readings, at, criteria, drawing)
    band = _band(marks, readings, criteria, drawing)
    if band is None and all(found.channel is None for found in founds):
        refuse_nothing(marks, readings, source)
    stock = marks.posts or default_stock()
    plan = measure_plan(marks, readings, criteria, drawing)
    result = Result(
        software=software(),
        side=marks.side,
        placements=tuple(placement_out(found, stock, criteria) for found in founds),
        band=band,
        photos=tuple(photo_out(readings[photo.file]) for photo in marks.photos),
        criteria=CriteriaOut.model_validate(criteria.to_dict()),
        judgement=Judgement(statement=wording.JUDGEMENT_STATEMENT, confirmed_by=confirmed_by),
        seed=seed,
        draws=draws,
        several_views=at.said,
        low_confidence=any(f.low_confidence for f in founds)
        or (band is not None and band.low_confidence),
        plan=plan.out if plan else None,
        plan_missing=plan_words.NO_RIM if marks.x_plan and plan is None else None,
    )
    return Measurement(result, readings, plan.drawing if plan else None)


def read_photos(
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    camera: CameraMarks | None,
    known: Mapping[str, PhotoReading] | None = None,
) -> dict[str, PhotoReading]:
    """Return the reading of every photo that the marks name."""
    before = known or {}
    return {
        entry.file: read_view(
            photos[entry.file],
            file=entry.file,
            entry=entry,
            card=marks.card,
            camera=marks.camera or camera,
            offset_mm=marks.rim_plane.offset_mm,
            known=before.get(entry.file),
        )
        for entry in marks.photos
    }


def _band(
    marks: Marks, readings: Mapping[str, PhotoReading], criteria: Criteria, draws: Draws
) -> BandOut | None:
    able = [
        (reading.tilt_deg, i)
        for i, photo in enumerate(marks.photos)
        if contours_of(photo) is not None
        and (reading := readings[photo.file]).fit is not None
        and reading.tilt_deg is not None
        and reading.tilt_deg <= ONE_VIEW_TILT_DEG
    ]
    if not able:
        return None
    photo = marks.photos[min(able)[1]]
    reading, contours = readings[photo.file], contours_of(photo)
    if reading.fit is None or contours is None:
        return None
    u_scale = float(np.hypot(reading.scale.u_common, max(reading.scale.u_axes)))
    outer, inner = (reading.straight(line) for line in contours)
    band = measure_band(
        reading.fit,
        (outer, inner),
        mark_sigma_px(photo, reading, marks.rim_plane.offset_mm),
        marks.rim_plane,
        u_scale,
        criteria,
        float(np.sqrt(BAND_MODEL.variance_mm2({"entry", "exit"}))),
        draws,
    )
    if band is None:
        return None
    return BandOut(
        arc_mm=tuple(band.arc_mm.tolist()),
        width_mm=tuple(band.width_mm.tolist()),
        u_width_mm=tuple(band.u_width_mm.tolist()),
        usable=band.usable,
        photo=photo.file,
        low_confidence=reading.low_confidence,
    )


def photo_out(reading: PhotoReading) -> PhotoOut:
    """Return a reading as the result file holds it."""
    warnings = [flag.sentence for flag in reading.flags]
    if reading.refusal:
        warnings.insert(0, reading.refusal)
    return PhotoOut(
        file=reading.file,
        tilt_deg=reading.tilt_deg,
        distance_mm=reading.distance_mm,
        reprojection_px=reading.fit.rms_px if reading.fit else None,
        corners=reading.fit.corners if reading.fit else 0,
        sharpness=reading.sharpness,
        mirrored=reading.mirrored,
        warnings=tuple(warnings),
    )
