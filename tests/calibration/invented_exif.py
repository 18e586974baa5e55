"""EXIF of a camera that doesn't exist, with or without what must not be kept."""

from __future__ import annotations

from PIL import Image

SERIAL, DESCRIPTION = "SERIAL-12345", "description-of-somebody"


def invented_exif(orientation: int = 1, *, planted: bool = False) -> Image.Exif:
    """Return EXIF of a turned photo; ``planted``: with a serial, a description and a place."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "Invented Optics", "Sample 12", orientation
    sub = exif.get_ifd(0x8769)
    sub[0x920A], sub[0xA405] = 6.5, 26
    if planted:
        sub[0xA431] = SERIAL
        exif[0x010E] = DESCRIPTION
        exif.get_ifd(0x8825).update({1: "N", 2: (48.0, 12.0, 30.0), 3: "E", 4: (16.0, 22.0, 1.0)})
    return exif
