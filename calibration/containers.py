"""What JPEG and PNG files are made of: their parts, and which of them the pixels need.

Nothing is decoded here.

References
----------
ITU-T T.81 annex B (JPEG's markers); W3C PNG, third edition, clause 5 (chunks).
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

PNG_HEAD = b"\x89PNG\r\n\x1a\n"
JPEG_HEAD = b"\xff\xd8\xff"

_EXIF_HEAD = b"Exif\x00\x00"
_SOI, _EOI, _SOS, _COMMENT, _APP0, _APP1, _APP2, _APP14 = (
    *(0xD8, 0xD9, 0xDA, 0xFE),
    *(0xE0, 0xE1, 0xE2, 0xEE),
)
_STANDALONE = {0x01, *range(0xD0, 0xD8)}
_FRAMES = set(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
# In the coded picture FF is followed by 00, or by one of eight restart markers.
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
_JFIF_BARE = 14
_PNG_PIXELS = {b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"}
_PNG_KEPT = _PNG_PIXELS | {b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"cICP", b"sBIT"}


class BrokenFileError(ValueError):
    """A file that ends too early or isn't put together as its format says."""


@dataclass(frozen=True, slots=True)
class Part:
    """A JPEG segment or PNG chunk: its kind, its payload, all its bytes.

    The segment that begins a JPEG scan has the coded picture behind it among its bytes.
    """

    kind: int | bytes
    payload: bytes
    whole: bytes


def parts(data: bytes) -> Iterator[Part]:
    """Yield the parts of the one picture, without what follows it.

    Raises
    ------
    BrokenFileError
        If the file ends before the picture does.
    """
    yield from _chunks(data) if data.startswith(PNG_HEAD) else _segments(data)


def _segments(data: bytes) -> Iterator[Part]:
    at = 2
    while True:
        while data[at : at + 2] == b"\xff\xff":  # fill bytes
            at += 1
        if len(data) < at + 2 or data[at] != 0xFF:
            raise BrokenFileError("no marker where one is due")
        marker = data[at + 1]
        if marker == _EOI:
            return
        if marker in _STANDALONE:
            at += 2
            continue
        length = int.from_bytes(data[at + 2 : at + 4], "big")
        end = at + 2 + length
        if length < 2 or end > len(data):
            raise BrokenFileError("a segment is cut short")
        if marker == _SOS:
            following = _NEXT_MARKER.search(data, end)
            if following is None:
                raise BrokenFileError("the picture has no end")
            payload, stop = data[at + 4 : end], following.start()
        else:
            payload, stop = data[at + 4 : end], end
        yield Part(marker, payload, data[at:stop])
        at = stop


def _chunks(data: bytes) -> Iterator[Part]:
    at = len(PNG_HEAD)
    while True:
        head = data[at : at + 8]
        length = int.from_bytes(head[:4], "big")
        end = at + 12 + length
        if len(head) < 8 or end > len(data):
            raise BrokenFileError("a chunk is cut short")
        yield Part(head[4:], data[at + 8 : end - 4], data[at:end])
        if head[4:] == b"IEND":
            return
        at = end


def size_px(data: bytes) -> tuple[int, int] | None:
    """Return the width and height that the header claims, px, before orientation."""
    try:
        for part in parts(data):
            if part.kind == b"IHDR" and len(part.payload) >= 8:
                width, height = struct.unpack(">II", part.payload[:8])
                return int(width), int(height)
            if part.kind in _FRAMES and len(part.payload) >= 5:
                height, width = struct.unpack(">HH", part.payload[1:5])
                return int(width), int(height)
    except BrokenFileError:
        return None
    return None


def exif_block(data: bytes) -> bytes:
    """Return the TIFF block of the EXIF data, empty where there is none."""
    for part in parts(data):
        if part.kind == b"eXIf":
            return part.payload
        if part.kind == _APP1 and part.payload.startswith(_EXIF_HEAD):
            return part.payload[len(_EXIF_HEAD) :]
    return b""


def pixels_only(data: bytes) -> bytes:
    """Return the file with nothing but what decoding its pixels takes."""
    kept = [part for part in parts(data) if part.kind in _PNG_PIXELS or _codes(part)]
    return _joined(data, [part.whole for part in kept])


def without_metadata(data: bytes, tiff: bytes) -> bytes:
    """Return the file with its colour profile and coded pixels as they are, and this EXIF.

    Parameters
    ----------
    data : bytes of the file
    tiff : bytes of the EXIF to put in, empty for none
    """
    if data.startswith(PNG_HEAD):
        chunks = [part.whole for part in parts(data) if part.kind in _PNG_KEPT]
        return _joined(data, [*chunks[:1], *([_chunk(b"eXIf", tiff)] if tiff else []), *chunks[1:]])
    segments = list(parts(data))
    jfif = [_jfif(part) for part in segments if _is_jfif(part)][:1]
    exif = [_segment(_APP1, _EXIF_HEAD + tiff)] if tiff else []
    rest = [part.whole for part in segments if _codes(part) or _is_profile(part)]
    return _joined(data, [*jfif, *exif, *rest])


def _joined(data: bytes, kept: list[bytes]) -> bytes:
    if data.startswith(PNG_HEAD):
        return PNG_HEAD + b"".join(kept)
    return b"\xff\xd8" + b"".join(kept) + b"\xff\xd9"


def _codes(part: Part) -> bool:
    """Return whether a JPEG segment bears on the pixels; Adobe's tells the colour transform."""
    if not isinstance(part.kind, int):
        return False
    application = 0xE0 <= part.kind <= 0xEF
    adobe = part.kind == _APP14 and part.payload.startswith(b"Adobe")
    return adobe or not (application or part.kind == _COMMENT)


def _is_jfif(part: Part) -> bool:
    return part.kind == _APP0 and part.payload.startswith(b"JFIF\x00")


def _is_profile(part: Part) -> bool:
    return part.kind == _APP2 and part.payload.startswith(b"ICC_PROFILE\x00")


def _jfif(part: Part) -> bytes:
    """Return the JFIF segment without the thumbnail that it may hold."""
    bare = part.payload[: _JFIF_BARE - 2].ljust(_JFIF_BARE - 2, b"\x00")
    return _segment(_APP0, bare + b"\x00\x00")


def _segment(marker: int, payload: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(payload) + 2) + payload


def _chunk(kind: bytes, payload: bytes) -> bytes:
    body = kind + payload
    return struct.pack(">I", len(payload)) + body + struct.pack(">I", zlib.crc32(body))
