"""The addresses of a photo's parts: ``/photo/SHA256/preview.jpg`` and ``/photo/SHA256/X_Y.jpg``.

Who may ask, and that nothing is kept, is ``serving.PrivateMedia``'s to say.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterable
from typing import Any, Protocol

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from calibration.frames import Image
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.clientfile import DamagedError
from rimspan.photo_tiles import TILE_PX, DecodedPhotos, preview_size, tile_jpeg
from rimspan.screens.store import FORGETTING, client_file

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


class Kept(Protocol):
    """What is asked of a client file."""

    def holds(self, digest: str) -> bool:
        """Return whether a photo is kept."""
        ...

    def photo_bytes(self, digest: str) -> bytes:
        """Return a kept photo's bytes, or raise DamagedError."""
        ...


class PhotoParts:
    """Answers with parts of kept photos.

    Parameters
    ----------
    file : returns the client file
    """

    def __init__(self, file: Callable[[], Kept]) -> None:
        self._file = file
        self._photos = DecodedPhotos()

    def preview(self, request: Request) -> Response:
        """Return the preview for one request."""
        sha256 = request.path_params["sha256"]
        return self._answer(sha256, lambda: self._photos.preview(sha256, self._decoded(sha256)))

    def tile(self, request: Request) -> Response:
        """Return the tile for one request."""
        sha256, x, y = (request.path_params[name] for name in ("sha256", "x", "y"))
        return self._answer(
            sha256, lambda: tile_jpeg(self._photos.pixels(sha256, self._decoded(sha256)), x, y)
        )

    def hold(self, sha256: str, photo: Photo) -> None:
        """Make a kept photo's preview in advance, now that it is decoded."""
        self._photos.hold(sha256, photo.pixels)

    def _decoded(self, sha256: str) -> Callable[[], Image]:
        return lambda: read_photo(self._file().photo_bytes(sha256)).pixels

    def forget(self, hashes: Iterable[str]) -> None:
        """Let go of photos that are kept no more."""
        for sha256 in hashes:
            self._photos.forget(sha256)

    def _answer(self, sha256: str, make: Callable[[], bytes | None]) -> Response:
        try:
            data = make() if self._is_kept(sha256) else None
        except DamagedError:
            data = None
        except PhotoError as error:
            log.warning("a kept photo can't be decoded: %s", error)
            data = None
        if data is None:
            return PlainTextResponse("no such picture", 404)
        return Response(
            data, media_type="image/jpeg", headers={"X-Content-Type-Options": "nosniff"}
        )

    def _is_kept(self, sha256: str) -> bool:
        """Ask each time: what is held here may have been erased, by another program too."""
        if not _HASH.fullmatch(sha256):
            return False
        if self._file().holds(sha256):
            return True
        self.forget([sha256])
        return False


def routes(parts: PhotoParts) -> list[Route]:
    """Return the routes that a server adds to Streamlit's."""
    return [
        Route(PREFIX + "{sha256}/preview.jpg", parts.preview, methods=["GET"]),
        Route(PREFIX + "{sha256}/{x:int}_{y:int}.jpg", parts.tile, methods=["GET"]),
    ]


PARTS = PhotoParts(client_file)
"""Of the photos in the client file that the screens are open on."""
FORGETTING.append(PARTS.forget)

ROUTES = routes(PARTS)
