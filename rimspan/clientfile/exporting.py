"""One client as a folder that people and programs can read, and back from there.

::

    README.txt              what this is, and that it is not sealed
    client.json             name, note, moments; consents; what was done
    photos/ID.jpg           as kept, with photos.json beside
    drafts/SIDE.json        what is being worked on
    revisions/NUMBER.json   each saved assessment as it was confirmed, and whether it is void
"""

from __future__ import annotations

import io
import json
import os
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

from calibration.containers import PNG_HEAD
from rimspan.clientfile.errors import DamagedError, RefusedError, StoreError
from rimspan.clientfile.records import Client, NewRevision, Revision
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


def import_client(file: ClientFile, folder: Path, by: str = "") -> Client:
    """Return the client that an exported folder holds, as a new client of this file.

    Photos, drafts, consents and revisions come with their contents and moments as they were;
    ids are new.  That they were brought here, and whence, stands in the chain.

    Raises
    ------
    DamagedError
        If the folder isn't an export, or a photo isn't the one that was exported.
    """
    read = _Folder(folder)
    held = read.json("client.json")
    if held.get("format") != FORMAT:
        raise DamagedError(f"{folder}: is no exported client that this version knows")
    photos = [(each, read.photo(each)) for each in read.json("photos/photos.json")["photos"]]
    revisions = [read.json(path) for path in read.names("revisions")]
    drafts = {Path(path).stem: read.json(path) for path in read.names("drafts")}
    # Half a client is none: the key is only kept once everything is there.
    client = file.walk_in(by=by)
    try:
        _fill(file, client, photos, revisions, drafts, by)
        for each in held["consents"]:
            note = f"{each['note']} (brought from {each['at']})".strip()
            file.consents.record(client.id, bool(each["given"]), each["by"], note)
    except BaseException:
        file.let_go(client.id, by=by)
        raise
    return file.keep_walk_in(client.id, held["name"], held["note"], by=by)


def _fill(
    file: ClientFile,
    client: Client,
    photos: list[tuple[dict[str, Any], bytes]],
    revisions: list[dict[str, Any]],
    drafts: dict[str, dict[str, Any]],
    by: str,
) -> None:
    for each, data in photos:
        kept = file.add_photo(client.id, data, each["filename"], each["side"], by=by)
        if kept.sha256 != each["sha256"]:
            raise DamagedError(f"photo {each['filename']}: isn't kept byte for byte; not imported")
    for each in revisions:
        saved = NewRevision(**{**each["saved"], "client_id": client.id})
        token = f"import {client.id[:8]} {each['id']}"
        made = file.save_revision(
            saved, token, created_at=datetime.fromisoformat(each["created_at"])
        )
        if each["void"]:
            file.void_revision(made.id, each["void"]["by"], each["void"]["reason"])
    for side, draft in drafts.items():
        file.save_draft(client.id, side, draft)


class _Folder:
    """An exported folder; nothing outside of it is read."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _bytes(self, name: str) -> bytes:
        place = self._folder / name
        if not place.resolve().is_relative_to(self._folder.resolve()):
            raise DamagedError(f"{self._folder}: names a file outside of itself; not imported")
        try:
            return place.read_bytes()
        except OSError:
            raise DamagedError(f"{place}: can't be read; take the whole folder") from None

    def json(self, name: str) -> dict[str, Any]:
        """Return a document."""
        try:
            return dict(json.loads(self._bytes(name)))
        except (ValueError, TypeError):
            raise DamagedError(f"{self._folder / name}: is damaged") from None

    def photo(self, listed: Mapping[str, Any]) -> bytes:
        """Return a photo's bytes, which must be those that were exported."""
        data = self._bytes(str(listed["at"]))
        if sha256(data).hexdigest() != listed["sha256"]:
            raise DamagedError(f"{self._folder / str(listed['at'])}: was changed; not imported")
        return data

    def names(self, within: str) -> list[str]:
        """Return the documents in a folder of it, in order."""
        found = (self._folder / within).glob("*.json")
        return sorted(f"{within}/{path.name}" for path in found)
