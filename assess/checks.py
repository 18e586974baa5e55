"""What can only be refused with the photos at hand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NoReturn

from assess.errors import Fault, MarksError, NothingMarkedError, NotMeasurableError
from assess.marks import Marks, PhotoMarks
from assess.marks_base import Point
from assess.placing import both_ends
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading
from calibration.photo import Photo, PhotoError

REACH = 0.5
"""A pixel reaches half a pixel beyond its centre."""


def named_points(photo: PhotoMarks) -> Iterator[tuple[str, Point]]:
    """Yield every mark of a photo with its path below the photo."""
    for name in ("outer_rim", "inner_rim", "head_up"):
        for i, point in enumerate(getattr(photo, name) or ()):
            yield f"{name}[{i}]", point
    for name, point in photo.ties.items():
        yield f"ties.{name}", point
    for j, placement in enumerate(photo.placements):
        for kind, point in placement.points().items():
            yield f"placements[{j}].{kind}", point


def refuse_marks_outside(
    marks: Marks, photos: Mapping[str, Photo | PhotoError], source: str
) -> None:
    """Raise MarksError if a mark lies outside its photo."""
    faults = []
    for i, photo in enumerate(marks.photos):
        picture = photos[photo.file]
        if isinstance(picture, PhotoError):  # said elsewhere
            continue
        width, height = picture.size
        for path, (x, y) in named_points(photo):
            if not (-REACH <= x <= width - REACH and -REACH <= y <= height - REACH):
                where = f"{source}: photos[{i}].{path}"
                what = f"({x:g}, {y:g}) lies outside the photo of {width} x {height} px"
                faults.append(Fault(where, what, "mark it inside the photo"))
    if faults:
        raise MarksError(faults)


def refuse_nothing(marks: Marks, readings: Mapping[str, PhotoReading], source: str) -> NoReturn:
    """Raise the reason why there is neither a channel nor a band."""
    measurable = [
        photo
        for photo in marks.photos
        if any(both_ends(p) for p in photo.placements)
        or (photo.outer_rim is not None and photo.inner_rim is not None)
    ]
    if measurable:
        raise NotMeasurableError([_why(readings[photo.file]) for photo in measurable])
    unread = [readings[photo.file] for photo in marks.photos if readings[photo.file].refusal]
    if len(unread) == len(marks.photos):
        raise NotMeasurableError([_why(reading) for reading in unread])
    fault = Fault(
        f"{source}: photos[0].placements",
        "nothing is marked that can be measured",
        "mark entry and exit of a placement in one photo, or both contours of the rim",
    )
    raise NothingMarkedError([fault])


def _why(reading: PhotoReading) -> Fault:
    if reading.refusal:
        return Fault(reading.file, reading.refusal, "take the photo again or use another")
    tilt = reading.tilt_deg or 0.0
    if tilt > ONE_VIEW_TILT_DEG:
        what = f"the ear is seen at {tilt:.0f} degrees, and one view over "
        what += f"{ONE_VIEW_TILT_DEG:.0f} is refused"
        return Fault(reading.file, what, "take a photo square-on to the card")
    return Fault(reading.file, "the contours leave no band between them", "mark them again")
