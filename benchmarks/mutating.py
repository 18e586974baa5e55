"""Changing bytes, texts and archives at random, as damage and malice would."""

from __future__ import annotations

import io
import json
import random
import struct
import zlib
from typing import Any
from zipfile import BadZipFile, ZipFile

import pillow_heif
from PIL import Image

from benchmarks.file_invented import noise

HOSTILE: tuple[Any, ...] = (
    None,
    True,
    -1,
    0,
    10**30,
    1e308,
    -0.0,
    "",
    "\x00",
    "../../../etc/passwd",
    "/etc/passwd",
    "<script>alert(1)</script>",
    "=1+1",
    "\u202e\u2066",
    "x" * 65_536,
    "2026-13-45T99:99:99",
    "1e999",
    [],
    {},
    [[]],
    {"": {}},
)
"""Values of another kind, size or meaning than is expected."""
LENGTHS = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0xFFFF, 0x7FFFFFFF, 0xFFFFFFFF)
DEEP = 100_000


def pictures() -> list[bytes]:
    """Return small photos of each kind that is read, and such as claim or hide too much."""
    jpeg = noise(1, 48)
    with Image.open(io.BytesIO(jpeg)) as opened:
        picture = opened.convert("RGB")
    progressive, png, palette, heic = (io.BytesIO() for _ in range(4))
    exif = Image.Exif()
    exif[0x0112], exif[0x010F] = 6, "Maker (invented)"
    picture.save(progressive, "JPEG", progressive=True, exif=exif.tobytes())
    picture.save(png, "PNG")
    picture.quantize(16).save(palette, "PNG", transparency=0)
    pillow_heif.from_pillow(picture).save(heic)
    made = [jpeg, progressive.getvalue(), png.getvalue(), palette.getvalue(), heic.getvalue()]
    return [*made, _png_bomb(), _claiming(jpeg)]


def _png_bomb() -> bytes:
    """Return a PNG of 10,900 x 10,900 grey pixels in a few bytes: just under what is decoded."""
    side = 10_900
    rows = zlib.compressobj(9)
    packed = b"".join(rows.compress(bytes(side // 8 + 2)) for _ in range(side)) + rows.flush()
    chunks = [(b"IHDR", struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)), (b"IDAT", packed)]
    return b"\x89PNG\r\n\x1a\n" + b"".join(_chunk(*each) for each in [*chunks, (b"IEND", b"")])


def _chunk(kind: bytes, payload: bytes) -> bytes:
    body = kind + payload
    return struct.pack(">I", len(payload)) + body + struct.pack(">I", zlib.crc32(body))


def _claiming(jpeg: bytes) -> bytes:
    """Return a JPEG whose header claims 65,535 x 65,535 pixels."""
    at = jpeg.index(b"\xff\xc0")
    return jpeg[: at + 5] + b"\xff\xff\xff\xff" + jpeg[at + 9 :]


def changed_bytes(whole: bytes, chance: random.Random) -> bytes:
    """Return the bytes with one to four changes."""
    data = bytearray(whole)
    for _ in range(chance.choice((1, 1, 2, 4))):
        at = chance.randrange(len(data) + 1) if data else 0
        how = chance.randrange(7)
        if how == 0 and at < len(data):
            data[at] ^= 1 << chance.randrange(8)
        elif how == 1:
            del data[at:]
        elif how == 2:
            data[at:at] = chance.randbytes(chance.choice((1, 4, 100)))
        elif how == 3:
            end = min(len(data), at + chance.choice((1, 8, 64, 1000)))
            del data[at:end]
        elif how == 4:
            width, value = chance.choice((1, 2, 4)), chance.choice(LENGTHS)
            data[at : at + width] = (value % (1 << 8 * width)).to_bytes(width, "big")
        elif how == 5:
            data[at:at] = data[: chance.choice((16, 200, 2000))]
        else:
            end = min(len(data), at + 32)
            data[at:end] = chance.randbytes(end - at)
    return bytes(data)


def changed_text(text: str, chance: random.Random) -> bytes:
    """Return a JSON text with values of another kind in it, or broken as a text."""
    how = chance.random()
    if how < 0.2:
        return changed_bytes(text.encode(), chance)
    if how < 0.23:
        return b"[" * DEEP
    if how < 0.26:
        return b'{"a":' * DEEP
    document = json.loads(text)
    for _ in range(chance.choice((1, 1, 2, 5))):
        document = _changed(document, chance)
    changed = json.dumps(document)
    if how < 0.3:
        changed = changed.replace("0", "1e999", 1)
    return changed.encode()


def _changed(held: Any, chance: random.Random) -> Any:  # noqa: ANN401  (any JSON value)
    """Return the value with one change somewhere within."""
    if isinstance(held, dict) and held and chance.random() < 0.9:
        name = chance.choice(sorted(held))
        how = chance.random()
        if how < 0.1:
            return {key: value for key, value in held.items() if key != name}
        if how < 0.15:
            return {**held, f"{name}\u200b": held[name]}
        return {**held, name: _changed(held[name], chance)}
    if isinstance(held, list) and held and chance.random() < 0.9:
        at = chance.randrange(len(held))
        how = chance.random()
        if how < 0.1:
            return [*held, *held[at:]]
        return [*held[:at], _changed(held[at], chance), *held[at + 1 :]]
    return chance.choice(HOSTILE)


def changed_zip(whole: bytes, chance: random.Random) -> bytes:
    """Return an archive of which one member was changed, left out, doubled or renamed."""
    out = io.BytesIO()
    with ZipFile(io.BytesIO(whole)) as archive:
        members = [(info.filename, archive.read(info)) for info in archive.infolist()]
    at = chance.randrange(len(members))
    name, data = members[at]
    how = chance.randrange(4)
    if how == 0:
        del members[at]
    elif how == 1:
        members.append((f"../{name}" if chance.random() < 0.5 else f"{name}x", data))
    elif how == 2:
        members[at] = (f"{name}\x01", data)
    else:
        members[at] = (name, _changed_member(data, chance))
    try:
        with ZipFile(out, "w") as archive:
            for each in members:
                archive.writestr(*each)
    except BadZipFile:
        return changed_bytes(whole, chance)
    return out.getvalue()


def _changed_member(data: bytes, chance: random.Random) -> bytes:
    lines = data.splitlines(keepends=True)
    if not lines or chance.random() < 0.3:
        return changed_bytes(data, chance)
    at = chance.randrange(len(lines))
    try:
        lines[at] = changed_text(lines[at].decode(), chance) + b"\n"
    except ValueError:
        return changed_bytes(data, chance)
    return b"".join(lines)
