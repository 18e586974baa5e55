"""Photos' bytes under their hash: in a folder beside the embedded store, else in a table."""

from __future__ import annotations

import os
import tempfile
from hashlib import sha256
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, select

from rimspan.clientfile import tables
from rimspan.clientfile.errors import DamagedError
from rimspan.clientfile.seal import Seal


class Blobs(Protocol):
    """Keeps bytes under their hash."""

    def put(self, connection: Connection, digest: str, kept: bytes) -> None:
        """Keep closed bytes; they are on disk when this returns or the transaction ends."""
        ...

    def get(self, connection: Connection, digest: str) -> bytes | None:
        """Return the closed bytes, or None."""
        ...


class FolderBlobs:
    """One file a blob, written, synced and renamed before any row names it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _place(self, digest: str) -> Path:
        return self._folder / digest[:2] / digest

    def put(self, connection: Connection, digest: str, kept: bytes) -> None:
        """Write the blob durably; the same bytes again are left as they lie."""
        place = self._place(digest)
        if place.exists():
            return
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=".new-")
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(kept)
                out.flush()
                os.fsync(out.fileno())
            Path(name).replace(place)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
        for folder in (place.parent, self._folder):
            _sync(folder)

    def get(self, connection: Connection, digest: str) -> bytes | None:
        """Return the blob's closed bytes, or None."""
        place = self._place(digest)
        return place.read_bytes() if place.is_file() else None


def _sync(folder: Path) -> None:
    if os.name != "posix":  # other systems can't sync a folder
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class TableBlobs:
    """Blobs as rows, in the same transaction as the row that names them."""

    def put(self, connection: Connection, digest: str, kept: bytes) -> None:
        """Keep the blob as a row."""
        if self.get(connection, digest) is None:
            connection.execute(tables.blob.insert().values(sha256=digest, data=kept))

    def get(self, connection: Connection, digest: str) -> bytes | None:
        """Return the blob's closed bytes, or None."""
        found = connection.scalar(select(tables.blob.c.data).where(tables.blob.c.sha256 == digest))
        return bytes(found) if found is not None else None


def opened(blobs: Blobs, connection: Connection, digest: str, seal: Seal) -> bytes:
    """Return a blob's plain bytes.

    Raises
    ------
    DamagedError
        If they are gone or have another hash than their name.
    """
    kept = blobs.get(connection, digest)
    if kept is None:
        raise DamagedError(f"photo {digest[:12]}: its bytes are gone; restore them from a backup")
    plain = seal.open(f"blob/{digest}", kept)
    if sha256(plain).hexdigest() != digest:
        raise DamagedError(f"photo {digest[:12]}: is damaged; restore it from a backup")
    return plain
