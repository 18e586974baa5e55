"""Invented things to put into a client file, and stores to put them in."""

from __future__ import annotations

import io
import shutil
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from rimspan.clientfile import ClientFile, NewRecord, NewRevision, database
from rimspan.clientfile.database import raw_engine
from rimspan.clientfile.dumping import reflected
from rimspan.clientfile.record_kinds import KINDS

PIERCER, APPRENTICE = "Piercer (invented)", "Apprentice (invented)"
PASSPHRASE = "invented words for tests only"  # noqa: S105  (seals nothing that is anybody's)
GOLDEN = Path(__file__).parents[1] / "tests" / "golden"


def noise(seed: int, side: int = 64) -> bytes:
    """Return a photo of which every stretch of bytes is its own."""
    pixels = np.random.default_rng(seed).integers(0, 256, (side, side, 3), dtype=np.uint8)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=95)
    return out.getvalue()


def new(client_id: str, **changes: object) -> NewRevision:
    """Return an assessment to save."""
    values: dict[str, Any] = {
        "client_id": client_id,
        "side": "left",
        "marks": {"format": "rimspan-marks/1", "side": "left"},
        "result": {"value": 6.5},
        "criteria": {"name": "test"},
        "software": "rimspan test",
        "measured_by": APPRENTICE,
        "confirmed_by": PIERCER,
        "statement": "The piercer decides.",
        "digest": "0" * 64,
        "photos": {},
    }
    return NewRevision(**{**values, **changes})


def fill(file: ClientFile, name: str = "Robin Example (invented)", seed: int = 120) -> str:
    """Return a client with something of every kind."""
    client = file.create_client(name, note=f"note of {name}").id
    file.consents.record(client, given=True, by=PIERCER)
    photo = file.add_photo(client, noise(seed, 24), "a.jpg", "left")
    file.save_draft(client, "left", {"answer": f"draft of {name}"})
    photos = {"a.jpg": photo.sha256}
    first = file.save_revision(new(client, photos=photos), f"one {client}")
    file.save_revision(new(client, photos=photos), f"two {client}")
    file.void_revision(first.id, PIERCER, f"a slip with {name}")
    visit = NewRecord("visit", PIERCER, {"note": f"visit of {name}"}, client, (photo.sha256,))
    file.add_record(visit, f"visit {client}")
    file.add_record(NewRecord("stock", PIERCER, {"items": [name]}), f"stock {client}")
    return client


def content(file: ClientFile, client_id: str) -> tuple[object, ...]:
    """Return what a file says of a client, without the ids that a new one gives anew."""
    client = file.client(client_id)
    saved = file.revisions(client_id)
    photos = file.photos(client_id)
    for photo in photos:
        file.photo_bytes(photo.sha256)
    return (
        client.name,
        client.note,
        [file.draft(client_id, side) for side in ("left", "right")],
        [(r.number, r.side, r.result, r.void and r.void.reason) for r in saved],
        [(p.filename, p.side, p.sha256) for p in photos],
        [(c.given, c.by) for c in file.consents.of(client_id)],
        [
            (r.kind, r.number, r.created_at, r.by, r.document, r.photos)
            for kind in KINDS
            for r in file.records(kind, client_id)
        ],
    )


@contextmanager
def server_database(admin: str) -> Iterator[str]:
    """Yield the URL of a new database on a server, which goes afterwards."""
    name = f"rimspan_{uuid.uuid4().hex}"
    engine = raw_engine(admin).execution_options(isolation_level="AUTOCOMMIT")
    with engine.connect() as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    yield engine.url.set(database=name).render_as_string(hide_password=False)
    with engine.connect() as connection:
        connection.exec_driver_sql(f"DROP DATABASE {name} WITH (FORCE)")
    engine.dispose()


@contextmanager
def new_store(server: str | None = None) -> Iterator[str]:
    """Yield a store of its own: a folder, or a database on a server."""
    if server is not None:
        with server_database(server) as url:
            yield url
        return
    with tempfile.TemporaryDirectory(prefix="rimspan-") as folder:
        yield str(Path(folder) / "store")


def lay_older(store: str) -> None:
    """Make a new store what it was in the time before there were keys."""
    if not database.is_url(store):
        shutil.copytree(GOLDEN / "store-0002", store)
        return
    with tempfile.TemporaryDirectory(prefix="rimspan-") as copy:
        older = Path(shutil.copytree(GOLDEN / "store-0002", Path(copy) / "older"))
        to_server(older, store)


def to_server(older: Path, server: str) -> None:
    """Bring an older store's rows and photos to a server, as one of that time had them."""
    here, there = raw_engine(older), raw_engine(server)
    with here.begin() as source, there.begin() as target:
        database.migrate(target, "0002")
        for table in reflected(source):
            rows = [dict(row._mapping) for row in source.execute(table.select())]
            if rows:
                target.execute(table.insert(), rows)
        for path in (older / "blobs").glob("??/*"):
            values = {"name": path.name, "data": path.read_bytes()}
            target.exec_driver_sql(
                "INSERT INTO blob (sha256, data) VALUES (%(name)s, %(data)s)", values
            )
    here.dispose()
    there.dispose()
