"""The parts of a photo that a page shows, cut out once a visit."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assess.reading import PhotoReading
from calibration.frames import Image
from calibration.photo import PhotoError
from rimspan.screens import state, work
from rimspan.screens.document import hashes

EAR_MM = 80.0
"""How much of the photo is shown as the ear."""
WHOLE_PX = 800
"""About how long a photo of which no ear is known is shown."""
SHARP_PX = 240
"""How much of the ear is shown pixel for pixel, to judge sharpness by."""


def ear_area(reading: PhotoReading) -> tuple[float, float, float, float] | None:
    """Return left, top, right and bottom of the ear in a photo, px, or None if nobody knows."""
    if reading.fit is None or reading.ear_px is None:
        return None
    half_px = EAR_MM / 2.0 / reading.mm_per_px(0.0)
    x, y = reading.ear_px
    return x - half_px, y - half_px, x + half_px, y + half_px


def shown(document: Mapping[str, Any], reading: PhotoReading) -> Image | None:
    """Return the part of a photo that shows the ear, without a pose the whole; None if damaged."""
    if reading.fit is not None and reading.ear_px is not None:
        return crop(document, reading, round(EAR_MM / reading.mm_per_px(0.0)))
    sha256 = hashes(document)[reading.file]

    def thinned() -> Image | None:
        whole = work.photo(sha256)
        if isinstance(whole, PhotoError):
            return None
        step = max(1, max(whole.size) // WHOLE_PX)
        return whole.pixels[::step, ::step].copy()

    return state.remembered("whole", sha256, thinned)


def crop(document: Mapping[str, Any], reading: PhotoReading, size_px: int) -> Image | None:
    """Return a square of a photo round the ear, else its middle, or None if undecodable."""
    sha256 = hashes(document)[reading.file]

    def cut() -> Image | None:
        whole = work.photo(sha256)
        if isinstance(whole, PhotoError):
            return None
        width, height = whole.size
        x, y = reading.ear_px or (width / 2, height / 2)
        left = round(min(max(x - size_px / 2, 0), max(width - size_px, 0)))
        top = round(min(max(y - size_px / 2, 0), max(height - size_px, 0)))
        return whole.pixels[top : top + size_px, left : left + size_px].copy()

    return state.remembered("crop", [sha256, reading.ear_px, size_px], cut, most=40)
