"""The addresses of a photo's parts: ``/photo/SHA256/preview.jpg`` and ``/photo/SHA256/X_Y.jpg``.

Who may ask, and that nothing is kept, is ``serving.PrivateMedia``'s to say.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable
from typing import Any

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from calibration.frames import Image
from calibration.photo import PhotoError, read_photo
from rimspan.clientfile import DamagedError
from rimspan.photo_tiles import (
    TILE_PX,
    DecodedPhotos,
    preview_jpeg,
    preview_size,
    tile_jpeg,
)
from rimspan.screens.store import client_file

PREFIX = "/photo/"
_HASH = re.compile(r"[0-9a-f]{64}")

log = logging.getLogger(__name__)


def preview_url(sha256: str) -> str:
    """Return the address of a kept photo's preview."""
    return f"{PREFIX}{sha256}/preview.jpg"


def tiles_of(sha256: str, size: tuple[int, int]) -> dict[str, Any]:
    """Return what the marking needs to fetch a kept photo's tiles.

    Parameters
    ----------
    size : the photo's width and height, px
    """
    return {
        "preview_size": list(preview_size(size)),
        "tiles": f"{PREFIX}{sha256}/",
        "tile_px": TILE_PX,
    }


class PhotoParts:
    """Answers with parts of kept photos."""

    def __init__(self, kept: Callable[[str], bytes]) -> None:
        self._kept = kept
        self._decoded = DecodedPhotos()

    def preview(self, request: Request) -> Response:
        """Return the preview for one request."""
        pixels = self._pixels(request.path_params["sha256"])
        return _jpeg(None if pixels is None else preview_jpeg(pixels))

    def tile(self, request: Request) -> Response:
        """Return the tile for one request."""
        asked = request.path_params
        pixels = self._pixels(asked["sha256"])
        return _jpeg(None if pixels is None else tile_jpeg(pixels, asked["x"], asked["y"]))

    def _pixels(self, sha256: str) -> Image | None:
        if not _HASH.fullmatch(sha256):
            return None
        try:
            return self._decoded.get(sha256, lambda: read_photo(self._kept(sha256)).pixels)
        except DamagedError:  # also where there never was such a photo
            return None
        except PhotoError as error:
            log.warning("a kept photo can't be decoded: %s", error)
            return None


def _jpeg(data: bytes | None) -> Response:
    if data is None:
        return PlainTextResponse("no such picture", 404)
    return Response(data, media_type="image/jpeg", headers={"X-Content-Type-Options": "nosniff"})


def routes(kept: Callable[[str], bytes]) -> list[Route]:
    """Return the routes that a server adds to Streamlit's.

    Parameters
    ----------
    kept : returns a kept photo's bytes by its hash, and raises DamagedError without
    """
    parts = PhotoParts(kept)
    return [
        Route(PREFIX + "{sha256}/preview.jpg", parts.preview, methods=["GET"]),
        Route(PREFIX + "{sha256}/{x:int}_{y:int}.jpg", parts.tile, methods=["GET"]),
    ]


ROUTES = routes(lambda sha256: client_file().photo_bytes(sha256))
