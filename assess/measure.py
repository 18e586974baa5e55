"""The one pipeline: marks and photos -> a result.

Pure: decoded photos in, a result out.  Whoever confirms it is told by name; nothing here
decides that it may be saved or printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from itertools import combinations

import numpy as np

from assess import relief as tissue_depth
from assess import wording
from assess.band import contours_of, measure_band
from assess.band_model import BAND_MODEL
from assess.channel import Axis, Channel, combine
from assess.checks import refuse_marks_outside, refuse_nothing
from assess.criteria import DEFAULT_CRITERIA, Criteria
from assess.marks import CameraMarks, Marks, PostStock
from assess.placing import axes_in, both_ends, mark_sigma_px, view_of
from assess.posts import DEFAULT_GAUGE_MM, default_stock
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading, read_view
from assess.report_placement import Found, placement_out
from assess.result import BandOut, CriteriaOut, Judgement, PhotoOut, Result
from assess.steps import Circumstances
from assess.verdict import decide
from calibration.draws import Draws
from calibration.find import CardSeen
from calibration.frames import Array
from calibration.photo import Photo, PhotoError

DRAWS = 100_000


@dataclass(frozen=True, slots=True)
class Measurement:
    """A result and, for the picture, what each photo said."""

    result: Result
    readings: Mapping[str, PhotoReading]


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
    seen: Mapping[str, CardSeen] | None = None,
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
    seen : the cards that were found in these photos before, by file; others are looked for
    visit : which of a client's visits; two visits share only the print of the card

    Raises
    ------
    MarksError
        If a mark lies outside its photo.
    NothingMarkedError, NotMeasurableError
        If there is neither a channel nor a band.
    """
    refuse_marks_outside(marks, photos, source)
    readings = read_photos(marks, photos, camera, seen)
    drawing = Draws(seed, draws, visit)
    founds = _placements(marks, readings, criteria, drawing)
    band = _band(marks, readings, criteria, drawing)
    if band is None and all(found.channel is None for found in founds):
        refuse_nothing(marks, readings, source)
    stock = marks.posts or default_stock()
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
    )
    return Measurement(result, readings)


def read_photos(
    marks: Marks,
    photos: Mapping[str, Photo | PhotoError],
    camera: CameraMarks | None,
    seen: Mapping[str, CardSeen] | None = None,
) -> dict[str, PhotoReading]:
    """Return the reading of every photo that the marks name."""
    known = seen or {}
    return {
        entry.file: read_view(
            photos[entry.file],
            file=entry.file,
            entry=entry,
            card=marks.card,
            camera=marks.camera or camera,
            offset_mm=marks.rim_plane.offset_mm,
            seen=known.get(entry.file),
        )
        for entry in marks.photos
    }


def _placements(
    marks: Marks, readings: Mapping[str, PhotoReading], criteria: Criteria, draws: Draws
) -> list[Found]:
    views = {label: view_of(label, marks, readings) for label in marks.labels()}
    axes: dict[str, Axis] = {}
    for photo in marks.photos:
        labels = [label for label, view in views.items() if view is photo]
        if labels:
            axes |= axes_in(photo, labels, marks, readings[photo.file], draws)
    channels = {
        label: combine(axes.get(label), marks.caliper.get(label), label, draws) for label in views
    }
    spacing = _spacing(axes, views)
    founds = []
    for label, view in views.items():
        file = view.file if view else None
        founds.append(
            _found(label, file, marks, readings, criteria, draws, axes, channels, spacing)
        )
    return founds


def _found(
    label: str,
    file: str | None,
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    criteria: Criteria,
    draws: Draws,
    axes: Mapping[str, Axis],
    channels: Mapping[str, Channel | None],
    spacing: Mapping[str, Array | None],
) -> Found:
    axis, channel, reading = axes.get(label), channels[label], marks.caliper.get(label)
    relief = tissue_depth.relief(reading, label, draws)
    cover = tissue_depth.cover(reading, _post_mm(marks.posts, criteria), label, draws)
    evidence: dict[str, Array | None] = {
        "channel": channel.draws if channel else None,
        "relief": relief,
        "cover_front": cover[0] if cover else None,
        "cover_behind": cover[1] if cover else None,
        "room_below": axis.room_below_mm if axis else None,
    }
    if label in spacing:
        evidence["spacing"] = spacing[label]
    examined = marks.examined.get(label)
    decision = decide(evidence, examined.tissue if examined else "not_examined", criteria)
    refusals = _refusals(label, marks, readings) if axis is None else ()
    seen = readings.get(file or "")
    how = Circumstances(
        seen.tilt_deg if seen else None,
        seen is None or seen.scale.verified,
        marks.rim_plane.u_offset_mm,
        reading,
    )
    return Found(label, file, axis, channel, relief, decision, refusals, how)


def _post_mm(stock: tuple[PostStock, ...] | None, criteria: Criteria) -> float:
    """Return the diameter that would be used: the first of the stock that may be."""
    gauges = [post.gauge_mm for post in stock or default_stock()]
    wanted = [gauge for gauge in gauges if criteria.limits["post"].contains(gauge)]
    return wanted[0] if wanted else DEFAULT_GAUGE_MM


def _spacing(
    axes: Mapping[str, Axis], views: Mapping[str, object | None]
) -> dict[str, Array | None]:
    """Return each placement's distance to the nearest other, for groups of two and more."""
    if len(views) < 2:
        return {}
    nearest: dict[str, Array | None] = dict.fromkeys(views)
    for a, b in combinations(axes, 2):
        if views[a] is not views[b]:  # each photo has a plane of its own
            continue
        gap = np.linalg.norm(axes[a].middle_mm - axes[b].middle_mm, axis=-1)
        for label in (a, b):
            known = nearest[label]
            nearest[label] = gap if known is None else np.minimum(known, gap)
    return nearest


def _refusals(label: str, marks: Marks, readings: Mapping[str, PhotoReading]) -> tuple[str, ...]:
    """Return why no photo gives this placement's channel."""
    showing = [photo for photo in marks.photos if both_ends(photo.placement(label))]
    lines = []
    for photo in showing:
        reading = readings[photo.file]
        if reading.refusal:
            lines.append(f"{photo.file}: {reading.refusal}")
        elif (reading.tilt_deg or 0.0) > ONE_VIEW_TILT_DEG:
            lines.append(
                f"{photo.file}: seen at {reading.tilt_deg:.0f} degrees, over "
                f"{ONE_VIEW_TILT_DEG:.0f}; take one square-on."
            )
    return tuple(lines)


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
        criteria.limits["channel"],
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
