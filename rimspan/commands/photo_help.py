"""A photo named on the command line, its scale from the card in it, and points given with it."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from assess.errors import Fault, NotMeasurableError
from assess.reading import read_view
from calibration.frames import Array, Image
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.commands.files import read_input, refuse


@dataclass(frozen=True, slots=True, eq=False)
class ScaledPhoto:
    """A picture, (H, W, 3), and the size of a pixel where the points lie, mm."""

    picture: Image
    mm_per_px: float


def scaled_photo(path: Path, points_px: Array) -> ScaledPhoto:
    """Return a photo with its scale near points, (N, 2) px.

    Raises
    ------
    CommandRefusedError
        If it is no photo, or a point lies outside it.
    NotMeasurableError
        If no card is found in it: status 3.
    """
    photo = photo_at(path)
    size = np.array(photo.size)
    if bool((points_px < -0.5).any() or (points_px > size - 0.5).any()):
        width, height = photo.size
        raise refuse(
            str(path),
            f"a point lies outside the photo of {width} x {height} pixels",
            "give pixels of the upright photo, (0, 0) being the centre of its top-left one",
        )
    reading = read_view(photo, file=path.name)
    if reading.fit is None:
        why = reading.refusal or "the card can't be used"
        raise NotMeasurableError([Fault(str(path), why, "take the photo again with the card")])
    middle = reading.straight(points_px.mean(axis=0, keepdims=True))[0]
    near = replace(reading, target_px=(float(middle[0]), float(middle[1])))
    return ScaledPhoto(photo.pixels, near.mm_per_px(0.0))


def photo_at(path: Path) -> Photo:
    """Return a photo.

    Raises
    ------
    CommandRefusedError
        If it is none.
    """
    try:
        return read_photo(read_input(path))
    except PhotoError as error:
        raise refuse(str(path), error.seen.rstrip(". "), error.do) from None


def points_in(path: Path) -> Array:
    """Return the points of a JSON array of [x, y], (N, 2) px.

    Raises
    ------
    CommandRefusedError
        If the file holds none.
    """
    try:
        held = json.loads(read_input(path).decode("utf-8-sig"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise refuse(str(path), "is not JSON", "give [[x, y], [x, y], [x, y]]") from None
    if not isinstance(held, list) or not all(_is_point(point) for point in held):
        raise refuse(str(path), "is no array of points", "give [[x, y], [x, y], [x, y]]")
    return np.array(held, dtype=np.float64).reshape(-1, 2)


def _is_point(held: object) -> bool:
    return (
        isinstance(held, list)
        and len(held) == 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) for v in held)
        and all(math.isfinite(v) and abs(v) < 1e9 for v in held)
    )
