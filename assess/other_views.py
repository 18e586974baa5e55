"""Where a dot of other photos lies in this one: on a line of sight, and how far along it.

What names a dot in one photo names it in all; the line tells which dot it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess.marks import Marks
from assess.reading import PhotoReading
from assess.space import dots_in
from calibration.epipolar import epipolar_line
from calibration.frames import Array
from calibration.pose import PlaneFit
from calibration.rays import nearest_places, widest_angle_deg
from calibration.view_photo import Mark
from calibration.views import NARROW_DEG

UNKNOWN_MM, KNOWN_MM = 9.0, 4.0
"""How far along the line of sight a dot is looked for, either way: from the rim's plane where one
photo shows it, from the place where two lines of sight meet (both assumed)."""
PLACES = 25


@dataclass(frozen=True, slots=True, eq=False)
class OtherDot:
    """A dot that other photos show and this one doesn't yet.

    ``line_px`` (n, 2) are places in this photo, as stored, on which it lies; ``first`` is the
    likeliest; ``files`` are the photos in which it is marked.
    """

    name: str
    line_px: Array
    first: int
    files: tuple[str, ...]


def other_dots(
    marks: Marks, readings: Mapping[str, PhotoReading], file: str
) -> tuple[OtherDot, ...]:
    """Return the dots of the other photos that aren't marked in this one, each with its line.

    Photos without a pose from a card give and get none.

    Parameters
    ----------
    marks : what is marked so far
    readings : by file
    file : the photo that is marked now
    """
    here = readings[file]
    if here.fit is None:
        return ()
    seen = _marked(marks, readings)
    there = {name for name, own in seen.items() if file in own}
    found = (
        _other(name, {f: mark for f, mark in own.items() if f != file}, readings, here, marks)
        for name, own in seen.items()
        if name not in there
    )
    return tuple(dot for dot in found if dot is not None)


def _marked(marks: Marks, readings: Mapping[str, PhotoReading]) -> dict[str, dict[str, Mark]]:
    """Return every dot's marks by photo, of photos with a pose."""
    seen: dict[str, dict[str, Mark]] = {}
    for photo in marks.photos:
        reading = readings.get(photo.file)
        if reading is None or reading.fit is None:
            continue
        for name, mark in dots_in(photo, reading, 1.0).items():
            seen.setdefault(name, {})[photo.file] = mark
    return seen


def _other(
    name: str,
    own: Mapping[str, Mark],
    readings: Mapping[str, PhotoReading],
    here: PhotoReading,
    marks: Marks,
) -> OtherDot | None:
    fits = {f: fit for f in own if (fit := readings[f].fit) is not None}
    if not fits or here.fit is None:
        return None
    height, reach = _height(fits, own, marks.rim_plane.offset_mm)
    file = next(iter(fits))
    line = epipolar_line(
        fits[file], here.fit, own[file].at_px, (height - reach, height + reach), PLACES
    )
    inside = np.all((line >= -0.5) & (line <= np.array(here.size) - 0.5), axis=1)
    if inside.sum() < 2:
        return None
    middle = line[len(line) // 2]
    kept = line[inside]
    first = int(np.argmin(np.linalg.norm(kept - middle, axis=1)))
    return OtherDot(name, here.straight(kept), first, tuple(fits))


def _height(
    fits: Mapping[str, PlaneFit], own: Mapping[str, Mark], offset_mm: float
) -> tuple[float, float]:
    """Return how high over the card a dot probably lies, toward the viewer, and how far off."""
    if len(fits) < 2:
        return offset_mm, UNKNOWN_MM
    at = nearest_places(list(fits.values()), [{"": own[f]} for f in fits])[""]
    if widest_angle_deg(np.array([fit.centre_mm for fit in fits.values()]), at) < NARROW_DEG:
        return offset_mm, UNKNOWN_MM
    return float(-at[2]), KNOWN_MM
