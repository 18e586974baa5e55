"""A photo in parts: a small preview of the whole, and tiles with its own pixels.

A photo of 12 or 48 million pixels takes its time to the tablet.  The preview can be marked on at
once; tiles are cut only where somebody looks closer.
"""

from __future__ import annotations

import io
import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

from PIL import Image as Pillow

from calibration.frames import Image

PREVIEW_PX = 1600
"""The preview's longer side; a photo no longer than this is its own preview."""

TILE_PX = 1024
"""The sides of a tile; the last of a row or a column is what is left."""

HELD = 2
"""Decoded photos held: 48 million pixels take 144 MB."""

_NO_SUBSAMPLING = 0

PREVIEWS = 16
"""Previews held, of some 0.4 MB each."""

T = TypeVar("T")

Size = tuple[int, int]


def preview_size(size: Size) -> Size:
    """Return the width and height of the preview of a photo of that size, px."""
    width, height = size
    longer = max(size)
    if longer <= PREVIEW_PX:
        return size

    def shortened(side: int) -> int:
        return max(1, round(side * PREVIEW_PX / longer))

    return shortened(width), shortened(height)


def preview_jpeg(pixels: Image) -> bytes:
    """Return the whole photo, made small, as a JPEG.

    Its edges are the photo's edges: preview pixel (i, j) covers ``i W/w`` to ``(i + 1) W/w``
    across and ``j H/h`` to ``(j + 1) H/h`` down, also where W/w is no whole number.

    Parameters
    ----------
    pixels : (H, W, 3) RGB
    """
    height, width = pixels.shape[:2]
    whole = Pillow.fromarray(pixels)
    small = preview_size((width, height))
    if small == whole.size:
        return _jpeg(whole, 95)
    # BOX takes whole pixels only: it shifts places by parts of one.
    return _jpeg(whole.resize(small, Pillow.Resampling.HAMMING), 88)


def tile_jpeg(pixels: Image, column: int, row: int) -> bytes | None:
    """Return one tile of a photo as a JPEG, or None beyond the photo.

    Pixel (i, j) of the tile is the photo's pixel (i + column TILE_PX, j + row TILE_PX).

    Parameters
    ----------
    pixels : (H, W, 3) RGB
    """
    height, width = pixels.shape[:2]
    left, top = column * TILE_PX, row * TILE_PX
    if not (0 <= left < width and 0 <= top < height):
        return None
    return _jpeg(Pillow.fromarray(pixels[top : top + TILE_PX, left : left + TILE_PX]), 92)


def _jpeg(picture: Pillow.Image, quality: int) -> bytes:
    # Halved colour would blur a red dot's edge: full colour.
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality, subsampling=_NO_SUBSAMPLING)
    return out.getvalue()


class Last(Generic[T]):
    """The things that were asked for last, each made when it is first asked for."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: OrderedDict[str, T] = OrderedDict()
        self._making = threading.Lock()  # two who ask at once wait for one making

    def get(self, name: str, make: Callable[[], T]) -> T:
        """Return the thing of that name."""
        with self._making:
            if name not in self._held:
                self._held[name] = make()
            self._held.move_to_end(name)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
            return self._held[name]

    def forget(self, name: str) -> None:
        """Let go of the thing of that name."""
        with self._making:
            self._held.pop(name, None)


class DecodedPhotos:
    """The last few decoded photos, and some more previews; each is made once, not for each part."""

    def __init__(self, held: int = HELD, previews: int = PREVIEWS) -> None:
        self._pixels: Last[Image] = Last(held)
        self._previews: Last[bytes] = Last(previews)

    def pixels(self, sha256: str, decode: Callable[[], Image]) -> Image:
        """Return a photo's pixels, (H, W, 3) RGB; ``decode`` is called where they aren't held."""
        return self._pixels.get(sha256, decode)

    def preview(self, sha256: str, decode: Callable[[], Image]) -> bytes:
        """Return a photo's preview, a JPEG."""
        return self._previews.get(sha256, lambda: preview_jpeg(self.pixels(sha256, decode)))

    def forget(self, sha256: str) -> None:
        """Let go of a photo and its preview."""
        self._pixels.forget(sha256)
        self._previews.forget(sha256)

    def hold(self, sha256: str, pixels: Image) -> None:
        """Take a photo that was decoded for another purpose, and make its preview in advance."""
        self.preview(sha256, lambda: pixels)
