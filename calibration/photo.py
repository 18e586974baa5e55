"""Bytes of a photo -> an upright picture and what EXIF says of how it was taken.

Orientation is applied once, here.  What is kept of a JPEG or PNG has its coded pixels untouched;
a HEIC photo is kept as a JPEG, and measured as it is kept.  Neither has a place, serial number,
thumbnail or comment.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from PIL import Image as Pillow
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile

from calibration.containers import (
    JPEG_HEAD,
    PNG_HEAD,
    BrokenFileError,
    exif_block,
    pixels_only,
    size_px,
    without_metadata,
)
from calibration.exif import Exif, read_exif, write_exif
from calibration.frames import Image
from calibration.heif import LONGEST_PX, kind, on_white, open_heic

LIMIT_PX = 120_000_000

_TURNS = {
    2: Pillow.Transpose.FLIP_LEFT_RIGHT,
    3: Pillow.Transpose.ROTATE_180,
    4: Pillow.Transpose.FLIP_TOP_BOTTOM,
    5: Pillow.Transpose.TRANSPOSE,
    6: Pillow.Transpose.ROTATE_270,
    7: Pillow.Transpose.TRANSVERSE,
    8: Pillow.Transpose.ROTATE_90,
}


@dataclass(frozen=True, slots=True)
class CaptureFacts:
    """Upright size in px, and what EXIF says: names, focal lengths in mm, digital zoom."""

    width: int
    height: int
    make: str | None = None
    model: str | None = None
    lens: str | None = None
    focal_mm: float | None = None
    focal_35mm: float | None = None
    digital_zoom: float | None = None


@dataclass(frozen=True, slots=True)
class Photo:
    """An upright picture, (H, W, 3) RGB, and the facts of its capture."""

    pixels: Image
    facts: CaptureFacts

    @property
    def size(self) -> tuple[int, int]:
        """Return width and height, px."""
        return self.facts.width, self.facts.height


class PhotoError(ValueError):
    """A file that can't be used as a photo: what was seen, what it means, what to do."""

    def __init__(self, seen: str, means: str, do: str) -> None:
        self.seen, self.means, self.do = seen, means, do
        super().__init__(f"{seen} {means} {do}")


def read_photo(data: bytes, *, limit_px: int = LIMIT_PX) -> Photo:
    """Return the photo that ``data`` holds, turned upright.

    Parameters
    ----------
    data : bytes of a JPEG, PNG or HEIC file
    limit_px : int
        Refused beyond this many pixels, by the header, before anything is decoded.

    Raises
    ------
    PhotoError
        If it is no such file, is cut short, or is too large.
    """
    with _damage_refused():
        exif, coded = _coded(data, limit_px)
        picture = _decoded(coded)
    turn = _TURNS.get(exif.orientation)
    if turn is not None:
        picture = picture.transpose(turn)
    pixels = np.asarray(picture, dtype=np.uint8)
    height, width = pixels.shape[:2]
    return Photo(pixels, _facts(exif, width, height))


def strip_photo(data: bytes) -> bytes:
    """Return the photo as it is kept, JPEG or PNG: same facts, nothing that tells on people.

    :func:`read_photo` reads the same pixels from it as from ``data``.

    Raises
    ------
    PhotoError
        As :func:`read_photo`, whose every photo can be kept.
    """
    with _damage_refused():
        exif, coded = _coded(data, LIMIT_PX)
        if coded is data:
            _decoded(coded)
        return without_metadata(coded, write_exif(exif))


def is_heic(data: bytes) -> bool:
    """Return whether the bytes call themselves HEIC, so that a JPEG is kept of them."""
    return kind(data) == "heic"


@contextmanager
def _damage_refused() -> Iterator[None]:
    try:
        yield
    except PhotoError:
        raise
    except (BrokenFileError, OSError, ValueError, SyntaxError, EOFError, struct.error, zlib.error):
        raise _damaged() from None


def _coded(data: bytes, limit_px: int) -> tuple[Exif, bytes]:
    """Return what EXIF says, and the photo as a JPEG or PNG: itself, or made of a HEIC."""
    _check_kind(data)
    if not is_heic(data):
        _check_size(size_px(data), limit_px)
        return read_exif(exif_block(data)), data
    photo = open_heic(data)
    _check_size(photo.size_px, limit_px)
    if max(photo.size_px) > LONGEST_PX:
        raise _too_large(photo.size_px, f"No side of a photo may be over {LONGEST_PX} px long.")
    return read_exif(photo.tiff).upright(), photo.as_jpeg()


def _decoded(coded: bytes) -> Pillow.Image:
    """Return the RGB picture of a JPEG or PNG as it is stored."""
    # Without its other parts a file can neither warn, nor unpack a bomb of text, nor turn.
    bare = io.BytesIO(pixels_only(coded))
    return _rgb(PngImageFile(bare) if coded.startswith(PNG_HEAD) else JpegImageFile(bare))


def _check_kind(data: bytes) -> None:
    if data.startswith((JPEG_HEAD, PNG_HEAD)) or is_heic(data):
        return
    if not data:
        seen = "The file is empty."
    elif kind(data) == "avif":
        seen = "The file is an AVIF picture."
    else:
        seen = "The file is no JPEG, PNG or HEIC picture."
    raise PhotoError(
        seen, "Only JPEG, PNG and HEIC can be read.", "Save the photo as JPEG, PNG or HEIC."
    )


def _check_size(size: tuple[int, int] | None, limit_px: int) -> None:
    if size is None or 0 in size:
        raise _damaged()
    if size[0] * size[1] > limit_px:
        raise _too_large(size, f"More than {limit_px / 1e6:g} million are not decoded.")


def _too_large(size: tuple[int, int], means: str) -> PhotoError:
    return PhotoError(
        f"The photo claims {size[0]} x {size[1]} pixels.",
        means,
        "Use the photo as the phone saved it.",
    )


def _damaged() -> PhotoError:
    return PhotoError(
        "The photo is cut short or damaged.",
        "Part of the picture is missing.",
        "Copy it from the phone again.",
    )


def _rgb(picture: Pillow.Image) -> Pillow.Image:
    """Return the picture in 8-bit RGB, on white where it is clear."""
    picture.load()
    if picture.mode.startswith(("I", "F")):  # 16 bits a channel
        wide = np.asarray(picture, dtype=np.float64)
        return Pillow.fromarray((wide / 257.0).clip(0, 255).astype(np.uint8)).convert("RGB")
    return on_white(picture)


def _facts(exif: Exif, width: int, height: int) -> CaptureFacts:
    return CaptureFacts(
        width,
        height,
        exif.make,
        exif.model,
        exif.lens,
        exif.focal_mm,
        exif.focal_35mm,
        exif.digital_zoom,
    )
