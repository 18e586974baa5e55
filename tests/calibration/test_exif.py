"""EXIF is read from whatever bytes come, and written so that others read the same."""

import struct

import numpy as np
import pytest
from PIL import Image

from calibration.exif import TEXT_LIMIT, Exif, read_exif, write_exif

FULL = Exif(
    {
        0x010F: "Invented Optics",
        0x0110: "S 12",
        0x0112: 6,
        0x920A: (68, 10),
        0xA404: (3, 2),
        0xA405: 26,
        0xA434: "Invented wide 6.8 mm",
    }
)


def directory(order: str, *entries: bytes) -> bytes:
    """Return a TIFF block of one directory."""
    head = (b"II*\x00" if order == "<" else b"MM\x00*") + struct.pack(f"{order}I", 8)
    return head + struct.pack(f"{order}H", len(entries)) + b"".join(entries) + bytes(4)


def test_another_reader_finds_what_was_written() -> None:
    other = Image.Exif()
    other.load(b"Exif\x00\x00" + write_exif(FULL))
    sub = other.get_ifd(0x8769)
    assert (other[0x010F], other[0x0110], other[0x0112]) == ("Invented Optics", "S 12", 6)
    assert (float(sub[0x920A]), float(sub[0xA404]), sub[0xA405]) == (6.8, 1.5, 26)
    assert sub[0xA434] == "Invented wide 6.8 mm"
    assert set(other) == {0x010F, 0x0110, 0x0112, 0x8769}


def test_what_another_program_wrote_is_read() -> None:
    other = Image.Exif()
    other[0x010F], other[0x0112], other[0x0132] = "Invented Optics", 8, "2026:01:01 00:00:00"
    other.get_ifd(0x8769).update({0x920A: 6.5, 0xA405: 26, 0xA431: "SERIAL", 0xA434: "Wide"})
    exif = read_exif(other.tobytes()[6:])
    assert (exif.make, exif.model, exif.lens, exif.orientation) == (
        *("Invented Optics", None, "Wide"),
        8,
    )
    assert (exif.focal_mm, exif.focal_35mm, exif.digital_zoom) == (6.5, 26.0, None)
    assert 0xA431 not in exif.values


def test_writing_and_reading_changes_nothing() -> None:
    assert read_exif(write_exif(FULL)) == FULL
    odd = Exif({0x0112: 3, 0x920A: 6.5, 0xA405: 70_000})
    assert read_exif(write_exif(odd)) == odd
    assert read_exif(write_exif(Exif({}))) == Exif({})


@pytest.mark.parametrize("order", ["<", ">"])
def test_both_byte_orders_are_read(order: str) -> None:
    entry = struct.pack(f"{order}HHIHH", 0x0112, 3, 1, 5, 0)
    assert read_exif(directory(order, entry)).orientation == 5


@pytest.mark.published(
    source="CIPA DC-008 (Exif)", where="FocalLengthIn35mmFilm and DigitalZoomRatio: 0 is unknown"
)
def test_zero_means_not_given() -> None:
    exif = Exif({0xA405: 0, 0xA404: (0, 1), 0x920A: (5, 0)})
    assert (exif.focal_35mm, exif.digital_zoom, exif.focal_mm) == (None, None, None)


@pytest.mark.parametrize("orientation", [0, 9, 65535, "6"])
def test_a_senseless_orientation_turns_nothing(orientation: int | str) -> None:
    assert Exif({0x0112: orientation}).orientation == 1


def test_a_long_name_is_cut() -> None:
    made = read_exif(write_exif(Exif({0x010F: "x" * 5000})))
    assert made.make == "x" * TEXT_LIMIT


def test_what_hides_behind_a_names_end_is_not_kept() -> None:
    text = b"Cam\x00SECRET\x00"
    entry = struct.pack("<HHII", 0x010F, 2, len(text), 26)
    block = directory("<", entry) + text
    assert block.index(text) == 26
    assert read_exif(block).make == "Cam"
    assert b"SECRET" not in write_exif(read_exif(block))


def test_damaged_blocks_count_as_not_given() -> None:
    """Every cut of a good block, and a thousand with bytes changed, read without an error."""
    good = write_exif(FULL)
    for length in range(len(good)):
        read_exif(good[:length])
    rng = np.random.default_rng(5)
    changed = 0
    for _ in range(1000):
        block = bytearray(good)
        for at in rng.integers(0, len(good), 4):
            block[at] = rng.integers(256)
        changed += read_exif(bytes(block)) != FULL
    assert read_exif(b"") == read_exif(b"no TIFF block") == Exif({})
    assert changed > 500
