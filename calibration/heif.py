"""HEIC photos, as phones save them: what their header says, and the same picture as a JPEG.

A HEIC file turns its picture by properties of its own (irot, imir), which the decoder has
applied when it hands the pixels out; the orientation in its EXIF says the same again and is
left unread.

References
----------
ISO/IEC 23008-12 (HEIF): brands; 6.5.10 and 6.5.12, rotation and mirroring.
"""

from __future__ import annotations

import io
import struct
from dataclasses import dataclass
from typing import Literal

import pillow_heif
from PIL import Image as Pillow

from calibration.containers import BrokenFileError

KEPT_QUALITY = 98
"""JPEG quality of what is kept of a HEIC photo, its colours at full resolution."""
LONGEST_PX = 65_500
"""No side of a JPEG can be longer."""

_HEAD = struct.Struct(">I4s")
_HEIC = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1", b"msf1"}
_AVIF = {b"avif", b"avis"}
_EXIF_HEAD = b"Exif\x00\x00"
_FAULTS = (ValueError, EOFError, SyntaxError, RuntimeError, OSError, IndexError)
"""What the library raises; it documents all but the last, for a file without a picture."""


def kind(data: bytes) -> Literal["heic", "avif"] | None:
    """Return which of the two the file calls itself, or None; nothing else is looked at."""
    if len(data) < 16 or data[4:8] != b"ftyp":
        return None
    length, _ = _HEAD.unpack(data[:8])
    listed = data[16 : min(max(length, 16), len(data))]
    brands = [data[8:12], *(listed[i : i + 4] for i in range(0, len(listed), 4))]
    if _AVIF & set(brands):
        return "avif"
    return "heic" if _HEIC & set(brands) else None


@dataclass(frozen=True, slots=True)
class HeicPhoto:
    """A HEIC file of which nothing is decoded yet.

    ``size_px`` is the upright width and height that its header claims; ``tiff`` the TIFF block
    of its EXIF, empty where it has none.
    """

    size_px: tuple[int, int]
    tiff: bytes
    _opened: pillow_heif.HeifFile

    def as_jpeg(self) -> bytes:
        """Return the upright picture as a JPEG, without any metadata but its colour profile.

        A JPEG, because browsers show no HEIC, and because what a HEIC decodes to may change
        with the next version of its decoder.  Lossless PNG was tried: three times the size,
        fifty times the time, and the card's corners lie 0.001 px (RMS) from where they lie in
        this JPEG, a hundredth of their own uncertainty.

        Raises
        ------
        BrokenFileError
            If the picture can't be decoded, or has another size than its header claims.
        """
        try:
            picture = self._opened.to_pillow()
        except _FAULTS as error:
            raise BrokenFileError(str(error)) from None
        if picture.size != self.size_px:
            raise BrokenFileError("the picture has another size than its header claims")
        out = io.BytesIO()
        on_white(picture).save(
            out,
            "JPEG",
            quality=KEPT_QUALITY,
            subsampling=0,
            icc_profile=picture.info.get("icc_profile"),
        )
        return out.getvalue()


def open_heic(data: bytes) -> HeicPhoto:
    """Return the file's main picture, opened but not decoded.

    Raises
    ------
    BrokenFileError
        If the file is cut short, damaged, or has no still picture.
    """
    try:
        opened = pillow_heif.open_heif(data)
        width, height = opened.size
        exif = opened.info.get("exif") or b""
    except _FAULTS as error:
        raise BrokenFileError(str(error)) from None
    return HeicPhoto((int(width), int(height)), exif.removeprefix(_EXIF_HEAD), opened)


def on_white(picture: Pillow.Image) -> Pillow.Image:
    """Return the picture in RGB, on white where it is clear."""
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        clear = picture.convert("RGBA")
        ground = Pillow.new("RGBA", clear.size, "white")
        return Pillow.alpha_composite(ground, clear).convert("RGB")
    return picture if picture.mode == "RGB" else picture.convert("RGB")
