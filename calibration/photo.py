"""Bytes of a photo -> an upright picture and what EXIF says of how it was taken.

Orientation is applied once, here.  What is kept of a photo has its pixels untouched, but no
place, serial number, thumbnail or comment.
"""

from __future__ import annotations

import io
import struct
import warnings
from dataclasses import dataclass

import numpy as np
from PIL import Image as Pillow
from PIL import ImageOps, UnidentifiedImageError

from calibration.frames import Image

LIMIT_PX = 120_000_000
FORMATS = ("JPEG", "PNG")

_EXIF_IFD = 0x8769
_MAKE, _MODEL, _ORIENTATION = 0x010F, 0x0110, 0x0112
_FOCAL, _FOCAL_35, _ZOOM, _LENS = 0x920A, 0xA405, 0xA404, 0xA434
_KEPT_MAIN = (_MAKE, _MODEL, _ORIENTATION)
_KEPT_SUB = (_FOCAL, _FOCAL_35, _ZOOM, _LENS)


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
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Pillow.DecompressionBombWarning)  # our own limit rules
        picture = _open(data, limit_px)
        exif = picture.getexif()
        facts = {**dict(exif), **exif.get_ifd(_EXIF_IFD)}
        upright = _upright(picture)
    pixels = np.asarray(upright, dtype=np.uint8)
    return Photo(pixels, _facts(facts, pixels.shape[1], pixels.shape[0]))


def _open(data: bytes, limit_px: int) -> Pillow.Image:
    try:
        picture = Pillow.open(io.BytesIO(data), formats=FORMATS)
    except Pillow.DecompressionBombError:
        raise PhotoError(
            "The photo's header claims far more pixels than any phone takes.",
            "It isn't decoded.",
            "Use the photo as the phone saved it.",
        ) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, struct.error):
        raise PhotoError(
            "The file is no JPEG or PNG picture." if data else "The file is empty.",
            "It can't be read as a photo.",
            "Save the photo as JPEG or PNG.",
        ) from None
    width, height = picture.size
    if width * height > limit_px:
        raise PhotoError(
            f"The photo claims {width} x {height} pixels.",
            f"More than {limit_px / 1e6:.0f} million are not decoded.",
            "Use the photo as the phone saved it.",
        )
    return picture


def _upright(picture: Pillow.Image) -> Pillow.Image:
    try:
        picture.load()
        turned = ImageOps.exif_transpose(picture)
        if turned.mode.startswith(("I", "F")):  # 16 bits a channel
            wide = np.asarray(turned, dtype=np.float64)
            return Pillow.fromarray((wide / 257.0).clip(0, 255).astype(np.uint8)).convert("RGB")
        if turned.mode in {"RGBA", "LA", "PA"} or "transparency" in turned.info:
            clear = turned.convert("RGBA")
            ground = Pillow.new("RGBA", clear.size, "white")
            return Pillow.alpha_composite(ground, clear).convert("RGB")
        return turned.convert("RGB")
    except (OSError, ValueError, SyntaxError, struct.error, MemoryError):
        raise PhotoError(
            "The photo is cut short or damaged.",
            "Part of the picture is missing.",
            "Copy it from the phone again.",
        ) from None


def _facts(exif: dict[int, object], width: int, height: int) -> CaptureFacts:
    return CaptureFacts(
        width,
        height,
        _text(exif.get(_MAKE)),
        _text(exif.get(_MODEL)),
        _text(exif.get(_LENS)),
        _positive(exif.get(_FOCAL)),
        _positive(exif.get(_FOCAL_35)),
        _positive(exif.get(_ZOOM)),
    )


def _text(value: object) -> str | None:
    text = str(value).strip("\x00 ") if value is not None else ""
    return text or None


def _positive(value: object) -> float | None:
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return number if np.isfinite(number) and number > 0 else None


def strip_photo(data: bytes) -> bytes:
    """Return the photo as it is kept: same pixels, no place, serial, thumbnail or comment.

    Raises
    ------
    PhotoError
        As :func:`read_photo`.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", Pillow.DecompressionBombWarning)
        picture = _open(data, LIMIT_PX)
        exif = _kept_exif(picture)
        if picture.format == "JPEG":
            return _strip_jpeg(data, exif)
        out = io.BytesIO()
        _decoded(picture).save(out, "PNG", exif=exif, optimize=False)
    return out.getvalue()


def _decoded(picture: Pillow.Image) -> Pillow.Image:
    try:
        picture.load()
    except (OSError, ValueError, SyntaxError, struct.error):
        raise PhotoError(
            "The photo is cut short or damaged.",
            "Part of the picture is missing.",
            "Copy it from the phone again.",
        ) from None
    bare = picture.copy()
    bare.info = {k: v for k, v in picture.info.items() if k in {"icc_profile", "transparency"}}
    return bare


def _kept_exif(picture: Pillow.Image) -> bytes:
    old, new = picture.getexif(), Pillow.Exif()
    for tag in _KEPT_MAIN:
        if tag in old:
            new[tag] = old[tag]
    sub = {tag: value for tag, value in old.get_ifd(_EXIF_IFD).items() if tag in _KEPT_SUB}
    if sub:
        new.get_ifd(_EXIF_IFD).update(sub)
    return new.tobytes()


def _strip_jpeg(data: bytes, exif: bytes) -> bytes:
    """Return the JPEG with only what its pixels need, and a fresh EXIF."""
    kept = [b"\xff\xd8"]
    if exif:
        body = exif if exif.startswith(b"Exif\x00\x00") else b"Exif\x00\x00" + exif
        kept.append(b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body)
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        marker = data[at + 1]
        if marker == 0xFF:  # fill byte
            at += 1
            continue
        length = struct.unpack(">H", data[at + 2 : at + 4])[0]
        segment = data[at : at + 2 + length]
        if marker == 0xDA:
            kept.append(data[at : _end_of_scans(data, at)])
            break
        if _needed(marker, segment):
            kept.append(segment)
        at += 2 + length
    return b"".join(kept)


def _needed(marker: int, segment: bytes) -> bool:
    application = 0xE0 <= marker <= 0xEF
    if not application:
        return marker != 0xFE  # comment
    jfif = marker == 0xE0 and segment[4:9] == b"JFIF\x00"
    colour = marker == 0xE2 and segment[4:16] == b"ICC_PROFILE\x00"
    return jfif or colour or marker == 0xEE  # Adobe's marker tells the colour transform


def _end_of_scans(data: bytes, at: int) -> int:
    """Return where the picture ends; thumbnails and films may follow it."""
    while (at := data.find(b"\xff", at + 1)) != -1:
        if data[at + 1 : at + 2] == b"\xd9":
            return at + 2
    return len(data)
