"""One client as a folder that people and programs can read.  :mod:`.importing` brings it back.

::

    README.txt              what this is, and that it is not sealed
    client.json             name, note, moments; consents; what was done
    photos/ID.jpg           as kept, with photos.json beside
    drafts/SIDE.json        what is being worked on
    revisions/NUMBER.json   each saved assessment as it was confirmed, and whether it is void
    records/KIND-NUMBER.json    what else is kept of the client: an insertion, a visit, ...
"""

from __future__ import annotations

import io
import json
import os
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

from calibration.containers import PNG_HEAD
from rimspan.clientfile.errors import RefusedError, StoreError
from rimspan.clientfile.record_kinds import KINDS
from rimspan.clientfile.record_rows import Record
from rimspan.clientfile.records import Client, Revision
from rimspan.clientfile.store import ClientFile

FORMAT = "rimspan-client/1"
SIDES = ("left", "right")
README = """This folder holds everything that a client file keeps of one client.

It is NOT sealed: whoever can open the folder can read it and see the photos.
Hand it over and delete it, or keep it as closely as the client file itself.

client.json      name, note, consents, and what was done when
photos/          the photos as they are kept, without place or serial numbers
drafts/          what was being worked on
revisions/       the saved assessments, as a piercer confirmed them
records/         what else was recorded: what went in, what was decided, how it went on
"""


def export_client(file: ClientFile, client_id: str, into: Path) -> int:
    """Write one client as a readable folder, and return how many files it holds.

    Raises
    ------
    RefusedError
        If the folder isn't new or empty.
    UnknownError
        If there is no such client.
    """
    parts = _parts(file, client_id)
    if into.exists() and (not into.is_dir() or any(into.iterdir())):
        raise RefusedError(f"{into}: isn't empty; choose a new folder")
    count = 0
    try:
        for name, data in parts:
            _write(into / name, data)
            count += 1
    except OSError as error:
        said = error.strerror or type(error).__name__
        raise StoreError(f"{into}: can't be written ({said}); choose another place") from None
    return count


def export_zip(file: ClientFile, client_id: str) -> bytes:
    """Return one client as the same folder in a ZIP; nothing of it is written to the disk here.

    Raises
    ------
    UnknownError
        If there is no such client.
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in _parts(file, client_id):
            packed.writestr(name, data)
    return out.getvalue()


def _parts(file: ClientFile, client_id: str) -> Iterator[tuple[str, bytes]]:
    """Return the files of an export one by one: photos together may be large."""
    client = file.client(client_id)  # before anything is made
    return _each_part(file, client)


def _each_part(file: ClientFile, client: Client) -> Iterator[tuple[str, bytes]]:
    yield "README.txt", README.encode()
    yield "client.json", _json(_client(file, client))
    for side in SIDES:
        draft = file.draft(client.id, side)
        if draft is not None:
            yield f"drafts/{side}.json", _json(draft)
    for revision in file.revisions(client.id):
        yield f"revisions/{revision.number:04d}.json", _json(_revision(revision))
    for kind in KINDS:
        for record in file.records(kind, client.id):
            yield f"records/{kind}-{record.number:04d}.json", _json(_record(record))
    listed = []
    for photo in file.photos(client.id):
        data = file.photo_bytes(photo.sha256)
        name = f"photos/{photo.id}{'.png' if data.startswith(PNG_HEAD) else '.jpg'}"
        listed.append(asdict(photo) | {"at": name})
        yield name, data
    yield "photos/photos.json", _json({"photos": listed})


def _client(file: ClientFile, client: Client) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "id": client.id,
        "name": client.name,
        "note": client.note,
        "created_at": client.created_at.isoformat(),
        "consents": [asdict(each) for each in file.consents.of(client.id)],
        "history": [asdict(each) for each in file.history.of(client.id)],
    }


def _revision(revision: Revision) -> dict[str, Any]:
    return {
        "id": revision.id,
        "number": revision.number,
        "created_at": revision.created_at.isoformat(),
        "void": asdict(revision.void) if revision.void else None,
        "saved": asdict(revision.saved),
    }


def _record(record: Record) -> dict[str, Any]:
    held = asdict(record)
    del held["client_id"]
    return held


def _json(held: Mapping[str, Any]) -> bytes:
    return json.dumps(held, indent=1, ensure_ascii=False, default=_moment).encode()


def _moment(held: object) -> str:
    if isinstance(held, datetime):
        return held.isoformat()
    raise TypeError(type(held).__name__)


def _write(place: Path, data: bytes) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)  # for nobody else to read
    with os.fdopen(handle, "wb") as out:
        out.write(data)
