"""Photos' sealed bytes under their ids: in a folder beside the embedded store, else a table."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from sqlalchemy import Connection, delete, select

from rimspan.clientfile import tables


class Blobs(Protocol):
    """Keeps sealed bytes under a photo's id."""

    def put(self, connection: Connection, photo: str, kept: bytes) -> None:
        """Keep sealed bytes; they are on disk when this returns or the transaction ends."""
        ...

    def get(self, connection: Connection, photo: str) -> bytes | None:
        """Return the sealed bytes, or None."""
        ...

    def remove(self, connection: Connection, photo: str) -> None:
        """Take the bytes away, if they are there."""
        ...

    def ids(self, connection: Connection) -> Iterator[str]:
        """Yield under which ids there are bytes."""
        ...


class FolderBlobs:
    """One file a blob, written, synced and renamed before any row names it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def _place(self, photo: str) -> Path:
        return self.folder / photo[:2] / photo

    def put(self, connection: Connection, photo: str, kept: bytes) -> None:
        """Write the blob durably."""
        place = self._place(photo)
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
        for folder in (place.parent, self.folder):
            sync_folder(folder)

    def get(self, connection: Connection, photo: str) -> bytes | None:
        """Return the blob's sealed bytes, or None."""
        place = self._place(photo)
        return place.read_bytes() if place.is_file() else None

    def remove(self, connection: Connection, photo: str) -> None:
        """Delete the file."""
        place = self._place(photo)
        if place.is_file():
            place.unlink()
            sync_folder(place.parent)

    def ids(self, connection: Connection) -> Iterator[str]:
        """Yield the names of the files."""
        for path in self.folder.glob("??/*"):
            if not path.name.startswith("."):
                yield path.name


def sync_folder(folder: Path) -> None:
    """Wait until what was renamed in a folder is on disk."""
    if os.name != "posix":  # other systems can't sync a folder
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class TableBlobs:
    """Blobs as rows, in the same transaction as the row that names them."""

    def put(self, connection: Connection, photo: str, kept: bytes) -> None:
        """Keep the blob as a row."""
        connection.execute(tables.photo_blob.insert().values(id=photo, data=kept))

    def get(self, connection: Connection, photo: str) -> bytes | None:
        """Return the blob's sealed bytes, or None."""
        blob = tables.photo_blob
        found = connection.scalar(select(blob.c.data).where(blob.c.id == photo))
        return bytes(found) if found is not None else None

    def remove(self, connection: Connection, photo: str) -> None:
        """Delete the row."""
        connection.execute(delete(tables.photo_blob).where(tables.photo_blob.c.id == photo))

    def ids(self, connection: Connection) -> Iterator[str]:
        """Yield the rows' ids."""
        yield from connection.scalars(select(tables.photo_blob.c.id))
