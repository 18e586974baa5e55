"""JPEG and PNG files are taken apart by their own structure, and put together losslessly."""

import io
import struct
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image

from calibration.containers import (
    BrokenFileError,
    exif_block,
    parts,
    pixels_only,
    size_px,
    without_metadata,
)

RNG = np.random.default_rng(8)
NOISE = Image.fromarray(RNG.integers(0, 255, (40, 60, 3), dtype=np.uint8))


def saved(kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    NOISE.save(out, kind, **options)
    return out.getvalue()


def pixels(data: bytes) -> np.ndarray:
    """Return the pixels by another decoder, unturned."""
    raw = np.frombuffer(data, np.uint8)
    return cv2.imdecode(raw, cv2.IMREAD_UNCHANGED | cv2.IMREAD_IGNORE_ORIENTATION)


def segment(marker: int, payload: bytes) -> bytes:
    return bytes((0xFF, marker)) + struct.pack(">H", len(payload) + 2) + payload


def chunk(kind: bytes, payload: bytes) -> bytes:
    check = struct.pack(">I", zlib.crc32(kind + payload))
    return struct.pack(">I", len(payload)) + kind + payload + check


@pytest.mark.parametrize("progressive", [False, True])
def test_the_coded_picture_stays_as_it_is(progressive: bool) -> None:
    data = saved("JPEG", progressive=progressive, quality=92)
    kept = without_metadata(data, b"")
    scans = [part.whole for part in parts(data) if part.kind == 0xDA]
    assert scans == [part.whole for part in parts(kept) if part.kind == 0xDA]
    assert (len(scans) > 1) == progressive
    np.testing.assert_array_equal(pixels(data), pixels(kept))


def test_an_end_marker_inside_a_segment_ends_nothing() -> None:
    """Between two scans a segment may hold the bytes FF D9; the picture goes on behind it."""
    data = saved("JPEG", progressive=True)
    at = data.index(b"\xff\xc4", data.index(b"\xff\xda"))
    spiked = data[:at] + segment(0xFE, b"SECRET\xff\xd9") + data[at:]
    kept = without_metadata(spiked, b"")
    assert b"SECRET" not in kept
    np.testing.assert_array_equal(pixels(kept), pixels(data))


def test_restart_markers_belong_to_the_picture() -> None:
    data = saved("JPEG", restart_marker_blocks=2)
    assert b"\xff\xd3" in data
    np.testing.assert_array_equal(pixels(without_metadata(data, b"")), pixels(data))


def test_a_second_picture_in_the_file_is_dropped() -> None:
    out = io.BytesIO()
    other = Image.new("RGB", (16, 16), "red")
    NOISE.save(out, "MPO", save_all=True, append_images=[other], quality=90)
    data = out.getvalue()
    assert b"MPF\x00" in data
    kept = without_metadata(data, b"")
    assert kept.startswith(b"\xff\xd8")
    assert kept.count(b"\xff\xd8\xff") == 1
    assert b"MPF\x00" not in kept
    np.testing.assert_array_equal(pixels(kept), pixels(data))


def test_the_thumbnail_of_jfif_is_dropped_and_its_density_kept() -> None:
    data = saved("JPEG", dpi=(300, 300))
    bare = segment(0xE0, data[6:20])
    thumb = segment(0xE0, data[6:18] + b"\x02\x02" + b"THUMBNAIL-MK")
    spiked = data.replace(bare, thumb)
    assert b"THUMBNAIL" in spiked
    kept = without_metadata(spiked, b"")
    assert kept == without_metadata(data, b"")
    with Image.open(io.BytesIO(kept)) as opened:
        assert opened.info["dpi"] == (300, 300)


def test_colour_stays_and_notes_go() -> None:
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    secret = (segment(0xE1, b"http://ns.adobe.com/xap/1.0/\x00SECRET"), segment(0xED, b"SECRET"))
    data = saved("JPEG", icc_profile=profile, comment=b"SECRET")
    data = data[:2] + b"".join(secret) + data[2:]
    kept = without_metadata(data, b"")
    assert b"SECRET" not in kept
    with Image.open(io.BytesIO(kept)) as opened:
        assert opened.info["icc_profile"] == profile
    assert profile not in pixels_only(data)


def test_a_cmyk_picture_keeps_its_colour_transform() -> None:
    out = io.BytesIO()
    NOISE.convert("CMYK").save(out, "JPEG", quality=95)
    data = out.getvalue()
    with (
        Image.open(io.BytesIO(data)) as before,
        Image.open(io.BytesIO(pixels_only(data))) as after,
    ):
        np.testing.assert_array_equal(np.asarray(before), np.asarray(after))


@pytest.mark.parametrize("depth", [np.uint8, np.uint16])
def test_a_png_keeps_every_bit(depth: type) -> None:
    wide = RNG.integers(0, np.iinfo(depth).max, (9, 7, 3)).astype(depth)
    data = cv2.imencode(".png", wide)[1].tobytes()
    spiked = data[:33] + chunk(b"tEXt", b"Author\x00SECRET") + data[33:] + b"SECRET"
    kept = without_metadata(spiked, b"II*\x00\x08\x00\x00\x00")
    assert b"SECRET" not in kept
    assert exif_block(kept) == b"II*\x00\x08\x00\x00\x00"
    np.testing.assert_array_equal(pixels(kept), wide)


def test_the_size_is_read_from_the_header() -> None:
    assert size_px(saved("JPEG")) == size_px(saved("JPEG", progressive=True)) == (60, 40)
    assert size_px(saved("PNG")) == (60, 40)
    assert size_px(saved("JPEG")[:30]) is None


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_every_cut_is_noticed(kind: str) -> None:
    data = saved(kind)
    for length in range(8, len(data), 17):
        with pytest.raises(BrokenFileError):
            list(parts(data[:length]))
    for length in range(len(data) - 3, len(data)):
        with pytest.raises(BrokenFileError):
            list(parts(data[:length]))
