"""Backups: one archive of everything as it was at one moment, sealed as it lies in the file."""

from __future__ import annotations

import json
import struct
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import IO, Any
from zipfile import BadZipFile, ZipFile

from sqlalchemy import Connection, select

from rimspan.clientfile import chain, tables
from rimspan.clientfile.base import Base, canonical
from rimspan.clientfile.chain import Head
from rimspan.clientfile.database import newest_schema
from rimspan.clientfile.dumping import HEADER, SUMS, Archive, row_of, write_tables, written
from rimspan.clientfile.erasing import tombstones
from rimspan.clientfile.errors import DamagedError, RefusedError, StoreError
from rimspan.clientfile.keys import KeyRing

FORMAT = "rimspan-backup/1"
TRIES = 5
PART_BYTES = 1 << 20
MOST_SMALL_BYTES = 64 << 20
"""What is read before anybody vouched for it must be small: the list of 200,000 photos is."""
_UNREADABLE = (
    *(KeyError, ValueError, TypeError, AttributeError, OverflowError),  # not as it is written
    *(BadZipFile, OSError, EOFError, RuntimeError, zlib.error, struct.error),  # not to be unpacked
)
"""What comes of reading an archive that was changed; nesting without end is a RuntimeError."""


class _ErasedMeanwhileError(Exception):
    """A photo went while it was about to be copied."""


@dataclass(frozen=True, slots=True)
class Header:
    """What a backup says of itself; anybody can read it, only the store's key can write it."""

    schema: str
    store: str
    made_at: str
    head: Head
    erased: Mapping[str, str]
    mac: str

    def vouched(self, ring: KeyRing) -> bool:
        """Return whether it was written with the store's key."""
        return ring.store == self.store and ring.mac(_signed(self)) == self.mac


def _signed(header: Header) -> bytes:
    parts = {
        "format": FORMAT,
        "schema": header.schema,
        "store": header.store,
        "made_at": header.made_at,
        "head": [header.head.seq, header.head.mac],
        "erased": dict(header.erased),
    }
    return canonical(parts)


def back_up(file: Base, place: Path) -> Header:
    """Write a backup, consistent though the file is in use, and return what it says of itself.

    Raises
    ------
    RefusedError
        If something is there already.
    StoreError
        If it can't be written.
    DamagedError
        If a photo that should be in it is gone.
    """
    if place.exists():
        raise RefusedError(f"{place}: is there already; choose another name")
    for _ in range(TRIES):
        try:
            with file.reading() as connection, written(place) as archive:
                return _write(file, connection, archive)
        except _ErasedMeanwhileError:
            continue
        except ValueError:
            said = "a value in the client file can't be read; rimspan file verify says more"
            raise DamagedError(said) from None
        except OSError as error:
            said = error.strerror or type(error).__name__
            raise StoreError(f"{place}: can't be written ({said}); choose another place") from None
    raise StoreError(f"{place}: clients were erased all the while; do it again")


def _write(file: Base, connection: Connection, archive: Archive) -> Header:
    gone = {client: at.isoformat() for client, at in tombstones(connection).items()}
    unsigned = Header(
        newest_schema(),
        file.ring.store,
        file.clock().isoformat(timespec="seconds"),
        chain.head(connection),
        gone,
        "",
    )
    signed = json.loads(_signed(unsigned))
    mac = file.ring.mac(_signed(unsigned))
    archive.write(HEADER, [json.dumps({**signed, "mac": mac}, indent=1).encode()])
    write_tables(connection, archive)
    # The ids first: they are few, and a photo's bytes may be many.
    listed = select(tables.photo_index.c.photo_id).order_by(tables.photo_index.c.photo_id)
    for photo in connection.scalars(listed).all():
        archive.write(f"blobs/{photo}", [_blob(file, connection, photo)])
    sums = dict(archive.sums)
    archive.write(
        SUMS, [json.dumps({"sums": sums, "mac": file.ring.mac(canonical(sums))}).encode()]
    )
    return replace(unsigned, mac=mac)


def _blob(file: Base, connection: Connection, photo: str) -> bytes:
    kept = file.blobs.get(connection, photo)
    if kept is not None:
        return kept
    with file.reading() as now:
        index = tables.photo_index.c.photo_id
        if now.scalar(select(index).where(index == photo)) is None:
            raise _ErasedMeanwhileError
    raise DamagedError(f"photo {photo}: its bytes are gone; rimspan file verify says more")


def read_header(place: Path) -> Header:
    """Return what a backup says of itself, vouched for by nobody.

    Raises
    ------
    StoreError
        If it can't be read.
    DamagedError
        If it is no backup.
    """
    with opened(place) as archive:
        return _header(archive, place)


def _header(archive: ZipFile, place: Path) -> Header:
    try:
        held: dict[str, Any] = json.loads(_small(archive, HEADER))
        if held["format"] != FORMAT:
            raise DamagedError(f"{place}: is of a format that this version doesn't know; update it")
        head = Head(*held["head"])
        return Header(
            held["schema"], held["store"], held["made_at"], head, held["erased"], held["mac"]
        )
    except _UNREADABLE:
        raise DamagedError(f"{place}: is no backup, or its head is damaged") from None


def opened(place: Path) -> ZipFile:
    """Return a backup's archive.

    Raises
    ------
    StoreError
        If it can't be read.
    DamagedError
        If it is no archive.
    """
    try:
        return ZipFile(place)
    except OSError as error:
        said = error.strerror or type(error).__name__
        raise StoreError(f"{place}: can't be read ({said}); check the name") from None
    except _UNREADABLE:
        raise DamagedError(f"{place}: is no backup, or its end is missing") from None


def slots_in(archive: ZipFile, place: Path) -> dict[str, bytes]:
    """Return the slots of the store's key in a backup.

    Raises
    ------
    DamagedError
        If they can't be read.
    """
    try:
        lines = _small(archive, f"tables/{tables.key_slot.name}.jsonl").splitlines()
        rows = [row_of(line) for line in lines]
        return {row["kind"]: row["document"] for row in rows}
    except _UNREADABLE:
        raise DamagedError(f"{place}: its keys are damaged") from None


def _small(archive: ZipFile, name: str) -> bytes:
    if archive.getinfo(name).file_size > MOST_SMALL_BYTES:
        raise ValueError(name)
    return archive.read(name)


def faults_of(archive: ZipFile, place: Path, ring: KeyRing) -> Iterator[str]:
    """Yield what in a backup isn't as it was written."""
    if not _header(archive, place).vouched(ring):
        yield f"{place}: its head wasn't written with this store's key"
    try:
        held = json.loads(_small(archive, SUMS))
        sums: dict[str, str] = held["sums"]
        sound = ring.mac(canonical(sums)) == held["mac"]
    except _UNREADABLE:
        sound = False
    if not sound:
        yield f"{place}: its list of sums is damaged"
        return
    names = [name for name in archive.namelist() if name != SUMS]
    for name in sorted(set(names) ^ set(sums)):
        yield f"{place}: {name} is {'missing' if name in sums else 'not of this backup'}"
    for name in sorted(set(names) & set(sums)):
        if _sum(archive, name) != sums[name]:
            yield f"{place}: {name} is damaged"


def _sum(archive: ZipFile, name: str) -> str | None:
    total = sha256()
    try:
        with archive.open(name) as member:
            for part in parts_of(member):
                total.update(part)
    except _UNREADABLE:
        return None
    return total.hexdigest()


def parts_of(member: IO[bytes]) -> Iterator[bytes]:
    """Yield a stream's bytes a part at a time."""
    while part := member.read(PART_BYTES):
        yield part


def erased_in(header: Header) -> dict[str, datetime]:
    """Return who was erased when a backup was made, and when."""
    return {client: datetime.fromisoformat(at) for client, at in header.erased.items()}
