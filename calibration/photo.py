"""Bytes of a photo -> an upright picture and what EXIF says of how it was taken.

Orientation is applied once, here.  What is kept of a photo has its coded pixels untouched, but
no place, serial number, thumbnail or comment.
"""

from __future__ import annotations

import io
import struct
import zlib
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

LIMIT_PX = 120_000_000

_HEIF_BRANDS = {b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"avif"}
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
    data : bytes of a JPEG or PNG file
    limit_px : int
        Refused beyond this many pixels, by the header, before anything is decoded.

    Raises
    ------
    PhotoError
        If it is no such file, is cut short, or is too large.
    """
    exif, picture = _decoded(data, limit_px)
    turn = _TURNS.get(exif.orientation)
    upright = picture if turn is None else picture.transpose(turn)
    pixels = np.asarray(upright, dtype=np.uint8)
    height, width = pixels.shape[:2]
    return Photo(pixels, _facts(exif, width, height))


def strip_photo(data: bytes) -> bytes:
    """Return the photo as it is kept: same coded pixels, same facts, nothing that tells on people.

    Raises
    ------
    PhotoError
        As :func:`read_photo`, whose every photo can be kept.
    """
    exif, _ = _decoded(data, LIMIT_PX)
    return without_metadata(data, write_exif(exif))


def _decoded(data: bytes, limit_px: int) -> tuple[Exif, Pillow.Image]:
    """Return what EXIF says, and the RGB picture as it is stored."""
    _check_kind(data)
    _check_size(size_px(data), limit_px)
    try:
        exif = read_exif(exif_block(data))
        # Without its other parts a file can neither warn, nor unpack a bomb of text, nor turn.
        bare = io.BytesIO(pixels_only(data))
        picture = PngImageFile(bare) if data.startswith(PNG_HEAD) else JpegImageFile(bare)
        return exif, _rgb(picture)
    except (BrokenFileError, OSError, ValueError, SyntaxError, EOFError, struct.error, zlib.error):
        raise _damaged() from None


def _check_kind(data: bytes) -> None:
    if data.startswith((JPEG_HEAD, PNG_HEAD)):
        return
    if not data:
        seen = "The file is empty."
    elif data[4:8] == b"ftyp" and data[8:12] in _HEIF_BRANDS:
        seen = "The file is a HEIC or AVIF picture, not a JPEG or PNG."
    else:
        seen = "The file is no JPEG or PNG picture."
    raise PhotoError(seen, "Only these two can be read.", "Save the photo as JPEG or PNG.")


def _check_size(size: tuple[int, int] | None, limit_px: int) -> None:
    if size is None or 0 in size:
        raise _damaged()
    width, height = size
    if width * height > limit_px:
        raise PhotoError(
            f"The photo claims {width} x {height} pixels.",
            f"More than {limit_px / 1e6:g} million are not decoded.",
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
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        ground = Pillow.new("RGBA", clear.size, "white")
        return Pillow.alpha_composite(ground, clear).convert("RGB")
    return picture.convert("RGB")


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
