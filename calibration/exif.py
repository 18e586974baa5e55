"""EXIF, as much of it as a measurement needs: orientation, camera, focal lengths.

Read from bytes that may be damaged, so anything out of place counts as not given; written anew
with nothing else in it.

References
----------
CIPA DC-008 (Exif) gives the tags; TIFF 6.0 the directories they lie in.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

TEXT_LIMIT = 120
"""Names of cameras and lenses are cut after so many bytes."""

Value = str | int | float | tuple[int, int]
"""Text, a number, or a fraction as it was written."""

_ASCII, _SHORT, _LONG, _RATIONAL, _SIGNED, _DOUBLE = 2, 3, 4, 5, 10, 12
_BYTES = {_ASCII: 1, _SHORT: 2, _LONG: 4, _RATIONAL: 8, _SIGNED: 8, _DOUBLE: 8}
# Exif wants RATIONAL for the lens; programs that rewrite photos also leave the last two.

_MAKE, _MODEL, _ORIENTATION, _SUB = 0x010F, 0x0110, 0x0112, 0x8769
_FOCAL, _ZOOM, _FOCAL_35, _LENS = 0x920A, 0xA404, 0xA405, 0xA434
_MAIN_TAGS = {_MAKE, _MODEL, _ORIENTATION}
_SUB_TAGS = {_FOCAL, _ZOOM, _FOCAL_35, _LENS}


@dataclass(frozen=True, slots=True)
class Exif:
    """What is read and kept, by tag."""

    values: dict[int, Value]

    @property
    def orientation(self) -> int:
        """Return 1 to 8; 1, upright, where none or nonsense is given."""
        value = self.values.get(_ORIENTATION)
        return value if isinstance(value, int) and 1 <= value <= 8 else 1

    def upright(self) -> Exif:
        """Return the same of a picture that was turned already."""
        kept = {tag: value for tag, value in self.values.items() if tag != _ORIENTATION}
        return Exif(kept)

    @property
    def make(self) -> str | None:
        """Return the camera's maker."""
        return self._text(_MAKE)

    @property
    def model(self) -> str | None:
        """Return the camera's model."""
        return self._text(_MODEL)

    @property
    def lens(self) -> str | None:
        """Return the lens model."""
        return self._text(_LENS)

    @property
    def focal_mm(self) -> float | None:
        """Return the focal length, mm."""
        return self._positive(_FOCAL)

    @property
    def focal_35mm(self) -> float | None:
        """Return the focal length of the same view on 35 mm film, mm."""
        return self._positive(_FOCAL_35)

    @property
    def digital_zoom(self) -> float | None:
        """Return the digital zoom ratio; by the standard 0 means that none was used."""
        return self._positive(_ZOOM)

    def _text(self, tag: int) -> str | None:
        value = self.values.get(tag)
        return value if isinstance(value, str) else None

    def _positive(self, tag: int) -> float | None:
        value = self.values.get(tag)
        if isinstance(value, tuple):
            number = value[0] / value[1] if value[1] else 0.0
        else:
            number = float(value) if isinstance(value, int | float) else 0.0
        return number if number > 0 and math.isfinite(number) else None


def read_exif(tiff: bytes) -> Exif:
    """Return what a TIFF block says; nothing where it is damaged."""
    order: Literal["<", ">"]
    if tiff[:4] == b"II*\x00":
        order = "<"
    elif tiff[:4] == b"MM\x00*":
        order = ">"
    else:
        return Exif({})
    values: dict[int, Value] = {}
    main = dict(_directory(tiff, order, 4))
    values.update({tag: value for tag, value in main.items() if tag in _MAIN_TAGS})
    at = main.get(_SUB)
    if isinstance(at, int):
        sub = _directory(tiff, order, at, indirect=False)
        values.update({tag: value for tag, value in sub if tag in _SUB_TAGS})
    return Exif(values)


def _directory(
    tiff: bytes, order: Literal["<", ">"], at: int, *, indirect: bool = True
) -> Iterator[tuple[int, Value]]:
    """Yield a directory's entries; ``at`` holds its place, or is its place."""
    if indirect:
        at = _number(tiff[at : at + 4], order, "I") or 0
    count = _number(tiff[at : at + 2], order, "H") or 0
    for i in range(count):
        entry = tiff[at + 2 + 12 * i : at + 14 + 12 * i]
        if len(entry) < 12:
            return
        tag, kind, length = struct.unpack(f"{order}HHI", entry[:8])
        size = _BYTES.get(kind, 0) * length
        start = struct.unpack(f"{order}I", entry[8:])[0]
        raw = entry[8 : 8 + size] if size <= 4 else tiff[start : start + size]
        value = _value(raw, kind, order) if size and len(raw) == size else None
        if value is not None:
            yield tag, value


def _number(raw: bytes, order: str, code: str) -> int | None:
    if len(raw) < struct.calcsize(code):
        return None
    return int(struct.unpack(order + code, raw)[0])


def _value(raw: bytes, kind: int, order: str) -> Value | None:
    if kind == _ASCII:
        bare = raw.split(b"\x00")[0][:TEXT_LIMIT]
        text = bare.decode("utf-8", "ignore").strip()
        return text or None
    if kind == _SHORT:
        return _number(raw[:2], order, "H")
    if kind == _LONG:
        return _number(raw[:4], order, "I")
    if kind == _DOUBLE:
        return float(struct.unpack(f"{order}d", raw[:8])[0])
    top, bottom = struct.unpack(order + ("ii" if kind == _SIGNED else "II"), raw[:8])
    return (int(top), int(bottom)) if top >= 0 and bottom >= 0 else None


def write_exif(exif: Exif) -> bytes:
    """Return a TIFF block with these values and nothing else; empty where there are none."""
    if not exif.values:
        return b""
    main = {tag: exif.values[tag] for tag in sorted(_MAIN_TAGS & exif.values.keys())}
    sub = {tag: exif.values[tag] for tag in sorted(_SUB_TAGS & exif.values.keys())}
    head = b"II*\x00" + struct.pack("<I", 8)
    if not sub:
        return head + _packed(main, 8)
    at = 8 + len(_packed({**main, _SUB: 0}, 8))
    return head + _packed({**main, _SUB: at}, 8) + _packed(sub, at)


def _packed(values: dict[int, Value], at: int) -> bytes:
    """Return a directory that lies at ``at``, and the values too long for it behind it."""
    entries, behind = [], b""
    free = at + 2 + 12 * len(values) + 4
    for tag, value in values.items():
        kind, count, raw = _encoded(value)
        if len(raw) > 4:
            entries.append(struct.pack("<HHII", tag, kind, count, free + len(behind)))
            behind += raw + bytes(len(raw) % 2)
        else:
            entries.append(struct.pack("<HHI4s", tag, kind, count, raw))
    return struct.pack("<H", len(values)) + b"".join(entries) + bytes(4) + behind


def _encoded(value: Value) -> tuple[int, int, bytes]:
    if isinstance(value, str):
        raw = value.encode() + b"\x00"
        return _ASCII, len(raw), raw
    if isinstance(value, tuple):
        return _RATIONAL, 1, struct.pack("<II", *value)
    if isinstance(value, float):
        return _DOUBLE, 1, struct.pack("<d", value)
    if value <= 0xFFFF:
        return _SHORT, 1, struct.pack("<H", value)
    return _LONG, 1, struct.pack("<I", value)
