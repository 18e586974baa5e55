"""All tables as lines of JSON in one archive, whatever engine they lie on; sealed as they are.

::

    rimspan.json        format, schema, store, moment, the chain's head, who was erased
    tables/NAME.jsonl   a row a line; bytes and moments are marked as such
    blobs/ID            a photo's sealed bytes
    sums.json           SHA-256 of each of these, under the store's HMAC
"""

from __future__ import annotations

import base64
import json
import os
import uuid
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path
from typing import IO, Any
from zipfile import ZIP_STORED, ZipFile, ZipInfo

from platformdirs import user_data_path
from sqlalchemy import Connection, MetaData, Table, insert, select

from rimspan.clientfile.blobs import sync_folder
from rimspan.clientfile.database import is_url
from rimspan.clientfile.moments import utc

HEADER, SUMS = "rimspan.json", "sums.json"
SUFFIX = ".rimspan"
APART = frozenset({"alembic_version", "attempt", "photo_blob"})
"""Tables that aren't dumped row by row."""
BATCH = 200


class Archive:
    """An archive being written; knows the sum of what went into it."""

    def __init__(self, out: ZipFile) -> None:
        self._out, self.sums = out, dict[str, str]()

    def write(self, name: str, parts: Iterable[bytes]) -> None:
        """Write one member, a part at a time."""
        total = sha256()
        info = ZipInfo(name, (1980, 1, 1, 0, 0, 0))
        with self._out.open(info, "w", force_zip64=True) as member:
            for part in parts:
                total.update(part)
                member.write(part)
        self.sums[name] = total.hexdigest()


@contextmanager
def written(place: Path) -> Iterator[Archive]:
    """Yield an archive that is at ``place``, whole and on disk, once the block is done."""
    place.parent.mkdir(parents=True, exist_ok=True)
    beside = place.with_name(f".{place.name}.{uuid.uuid4().hex[:8]}.part")
    try:
        with beside.open("xb") as stream:
            with ZipFile(stream, "w", ZIP_STORED) as out:
                yield Archive(out)
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(place)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(place.parent)


def dump_place(store: str | Path, schema: str | None) -> Path:
    """Return where a store's tables go before a migration; None stands for those not sealed."""
    folder = user_data_path("rimspan", appauthor=False) if is_url(store) else Path(store)
    if schema is None:
        name = f"not-sealed-{sha256(str(store).encode()).hexdigest()[:12]}"
    else:
        name = f"before-migration-{schema}-{datetime.now(UTC):%Y%m%dT%H%M%S%f}"
    return folder / "backups" / (name + SUFFIX)


def dump_tables(connection: Connection, place: Path, schema: str) -> None:
    """Write a store's tables as they are before a migration, which leaves photos alone."""
    with written(place) as archive:
        header = {"format": "rimspan-tables/1", "schema": schema}
        archive.write(HEADER, [json.dumps(header).encode()])
        write_tables(connection, archive)


def write_tables(connection: Connection, archive: Archive) -> None:
    """Write every table's rows."""
    for table in reflected(connection):
        archive.write(f"tables/{table.name}.jsonl", _lines(connection, table))


def reflected(connection: Connection) -> list[Table]:
    """Return the tables as they are in the database, those first that others refer to."""
    found = MetaData()
    found.reflect(connection)
    return [table for table in found.sorted_tables if table.name not in APART]


def _lines(connection: Connection, table: Table) -> Iterator[bytes]:
    wanted = select(table).execution_options(yield_per=BATCH)
    for row in connection.execute(wanted):
        held = {name: _marked(value) for name, value in row._mapping.items()}
        yield json.dumps(held).encode() + b"\n"


def _marked(value: object) -> object:
    if isinstance(value, datetime):
        return {"at": utc(value).isoformat(timespec="microseconds")}
    if isinstance(value, bytes | memoryview):
        return {"bytes": base64.b64encode(bytes(value)).decode()}
    return value


def row_of(line: bytes) -> dict[str, Any]:
    """Return the row that a line stands for."""
    return {name: _value(held) for name, held in json.loads(line).items()}


def _value(held: object) -> object:
    if isinstance(held, Mapping):
        if "at" in held:
            return datetime.fromisoformat(held["at"])
        return base64.b64decode(held["bytes"])
    return held


def insert_lines(connection: Connection, table: Table, lines: IO[bytes]) -> None:
    """Insert a table's rows from their lines, some at a time."""
    batch: list[dict[str, Any]] = []
    for line in lines:
        batch.append(row_of(line))
        if len(batch) >= BATCH:
            connection.execute(insert(table), batch)
            batch = []
    if batch:
        connection.execute(insert(table), batch)
