"""Invented things to put into a client file, and ways to reach past it into the database."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from PIL import Image

from benchmarks.file_invented import APPRENTICE, PASSPHRASE, PIERCER, new, noise
from rimspan.clientfile import ClientFile, NewRecord, tables
from rimspan.clientfile.database import raw_engine
from rimspan.clientfile.triggers import fix, release

__all__ = ["APPRENTICE", "PASSPHRASE", "PIERCER", "new", "noise"]


def picture(shade: int = 120) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (32, 24), (shade, 90, 80)).save(out, "JPEG")
    return out.getvalue()


def fill(file: ClientFile, name: str = "Robin Example (invented)", shade: int = 120) -> str:
    """Return a client with something of every kind."""
    client = file.create_client(name, note=f"note of {name}").id
    file.consents.record(client, given=True, by=PIERCER)
    photo = file.add_photo(client, picture(shade), "a.jpg", "left")
    file.save_draft(client, "left", {"answer": f"draft of {name}"})
    photos = {"a.jpg": photo.sha256}
    first = file.save_revision(new(client, photos=photos), f"one {client}")
    file.save_revision(new(client, photos=photos, side="left"), f"two {client}")
    file.void_revision(first.id, PIERCER, f"a slip with {name}")
    file.add_record(
        NewRecord("visit", PIERCER, {"note": f"visit of {name}"}, client), f"v {client}"
    )
    file.add_record(NewRecord("stock", PIERCER, {"items": [], "note": name}), f"s {client}")
    return client


@contextmanager
def behind(store: str, table: str | None = None) -> Iterator[sa.Connection]:
    """Yield a connection of somebody with the database but without the key.

    ``table`` loses its triggers meanwhile: whoever can write the file can do that, too.
    """
    engine = raw_engine(store)
    try:
        with engine.begin() as connection:
            fixed = table in tables.FIXED
            if fixed and table:
                release(connection, table)
            yield connection
            if fixed and table:
                fix(connection, table)
    finally:
        engine.dispose()


class Clock:
    """A clock that goes when it is told to."""

    def __init__(self) -> None:
        self.time = datetime(2026, 1, 1, 12, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.time += timedelta(microseconds=1)
        return self.time

    def pass_s(self, seconds: float) -> None:
        self.time += timedelta(seconds=seconds)
