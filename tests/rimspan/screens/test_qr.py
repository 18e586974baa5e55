"""The code says the address to a reader that isn't the one who drew it."""

from __future__ import annotations

import re

import cv2
import numpy as np

from rimspan.screens.qr import QUIET, qr_svg

ADDRESS = "http://192.0.2.7:8501/phone/AbCdEfGhIjKlMnOpQrStUvWxYz0123456789-_AbCdE"
SCALE = 8


def pixels(svg: str) -> np.ndarray:
    """Return the drawing as black and white squares on a dark page, whatever drew it."""
    found = re.search(r'viewBox="0 0 (\d+) \1"', svg)
    assert found is not None
    modules = np.full((int(found[1]), int(found[1])), 255, np.uint8)
    for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", svg):
        modules[int(y), int(x)] = 0
    return np.pad(np.kron(modules, np.ones((SCALE, SCALE), np.uint8)), 4 * SCALE)


def test_another_reader_reads_the_address() -> None:
    said, *_ = cv2.QRCodeDetector().detectAndDecode(pixels(qr_svg(ADDRESS, "a code")))
    assert said == ADDRESS


def test_the_code_stands_on_white_with_its_quiet_zone() -> None:
    svg = qr_svg(ADDRESS, "a <code>")
    places = [(int(x), int(y)) for x, y in re.findall(r"M(\d+) (\d+)h", svg)]
    size = int(re.search(r'viewBox="0 0 (\d+)', svg)[1])  # type: ignore[index]
    assert min(min(place) for place in places) == QUIET
    assert max(max(place) for place in places) == size - QUIET - 1
    assert f'<rect width="{size}" height="{size}" fill="#ffffff"/>' in svg
    assert 'aria-label="a &lt;code&gt;"' in svg
