"""An exported folder, looked through and brought in as a new client.

Whoever made the folder may have changed it: every document is held against what an export is
before anything is kept.
"""

from __future__ import annotations

import dataclasses
import typing
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    JsonValue,
    TypeAdapter,
    ValidationError,
    create_model,
)

from calibration.photo import PhotoError
from rimspan.clientfile.base import canonical
from rimspan.clientfile.errors import DamagedError, RefusedError, UnknownError
from rimspan.clientfile.exporting import SIDES
from rimspan.clientfile.recording import NewRecord
from rimspan.clientfile.records import Client, NewRevision
from rimspan.clientfile.store import ClientFile

MOST_BYTES = 150 << 20
"""No document or photo of an export is larger."""
STRICT = ConfigDict(strict=True, extra="forbid")


class _Exported(BaseModel):
    model_config = STRICT


class _Consent(_Exported):
    given: bool
    by: str
    note: str
    at: datetime


class _Client(_Exported):
    format: Literal["rimspan-client/1"]
    id: str
    name: str
    note: str
    created_at: datetime
    consents: list[_Consent]
    history: list[JsonValue]


class _Photo(_Exported):
    id: str
    client_id: str
    sha256: str
    filename: str
    side: Literal["left", "right"]
    size: int
    at: str


class _Photos(_Exported):
    photos: list[_Photo]


class _Void(_Exported):
    reason: str
    by: str
    at: datetime


def _default(each: dataclasses.Field[Any]) -> Any:  # noqa: ANN401  (whatever the field holds)
    """Return what an export from before a field was kept has in its place."""
    if each.default_factory is not dataclasses.MISSING:
        return Field(default_factory=each.default_factory)
    return ... if each.default is dataclasses.MISSING else each.default


def _model_of_saved() -> type[BaseModel]:
    """Return the model of a saved assessment: what :class:`NewRevision` has, of its kinds."""
    hints = typing.get_type_hints(NewRevision)
    kinds: dict[str, Any] = {
        each.name: (
            hints[each.name],
            _default(each),
        )
        for each in dataclasses.fields(NewRevision)
    }
    kinds["side"] = (Literal["left", "right"], ...)
    return create_model("_Saved", __config__=STRICT, **kinds)


_Saved = _model_of_saved()


class _Revision(_Exported):
    id: str
    number: int
    created_at: datetime
    void: _Void | None
    saved: _Saved  # type: ignore[valid-type]  # made of a class's fields


class _Record(_Exported):
    id: str
    kind: str
    number: int
    created_at: datetime
    by: str
    document: dict[str, JsonValue]
    photos: list[str]


Document = typing.TypeVar("Document")


def import_client(file: ClientFile, folder: Path, by: str = "") -> Client:
    """Return the client that an exported folder holds, as a new client of this file.

    Photos, drafts, consents, revisions and other records come with their contents and moments as
    they were; ids are new.  That they were brought here, and whence, stands in the chain.

    Raises
    ------
    DamagedError
        If the folder isn't an export, or a photo isn't the one that was exported.
    """
    read = _Folder(folder)
    held = read.document("client.json", _Client)
    photos = read.document("photos/photos.json", _Photos).photos
    for each in photos:
        read.photo(each)  # looked at before anything is kept
    revisions = [read.document(path, _Revision) for path in read.names("revisions")]
    records = [read.document(path, _Record) for path in read.names("records")]
    drafts = {
        side: read.document(f"drafts/{side}.json", dict[str, JsonValue])
        for side in SIDES
        if (folder / "drafts" / f"{side}.json").exists()
    }
    # Half a client is none: the key is only kept once everything is there.
    client = file.walk_in(by=by)
    try:
        for each in photos:
            _keep_photo(file, client, each, read.photo(each), by)
        for revision in revisions:
            _keep_revision(file, client, revision)
        for record in sorted(records, key=lambda each: each.number):
            _keep_record(file, client, record)
        for side, draft in drafts.items():
            file.save_draft(client.id, side, draft)
        for consent in held.consents:
            note = f"{consent.note} (brought from {consent.at.isoformat()})".strip()
            file.consents.record(client.id, consent.given, consent.by, note)
    except BaseException:
        file.let_go(client.id, by=by)
        raise
    return file.keep_walk_in(client.id, held.name, held.note, by=by)


def _keep_photo(file: ClientFile, client: Client, listed: _Photo, data: bytes, by: str) -> None:
    try:
        kept = file.add_photo(client.id, data, listed.filename, listed.side, by=by)
    except PhotoError as error:
        raise DamagedError(f"photo {listed.filename}: {error.seen}; not imported") from None
    if kept.sha256 != listed.sha256:
        raise DamagedError(f"photo {listed.filename}: isn't kept byte for byte; not imported")


def _keep_revision(file: ClientFile, client: Client, revision: _Revision) -> None:
    saved: BaseModel = revision.saved
    new = NewRevision(**{**saved.model_dump(), "client_id": client.id})
    token = f"import {client.id[:8]} {revision.id}"
    made = file.save_revision(new, token, created_at=revision.created_at)
    if revision.void:
        file.void_revision(made.id, revision.void.by, revision.void.reason)


def _keep_record(file: ClientFile, client: Client, record: _Record) -> None:
    new = NewRecord(record.kind, record.by, record.document, client.id, tuple(record.photos))
    token = f"import {client.id[:8]} {record.id}"[:64]
    try:
        file.add_record(new, token, created_at=record.created_at)
    except (RefusedError, UnknownError) as error:
        raise DamagedError(f"record {record.kind} {record.number}: {error}; not imported") from None


class _Folder:
    """An exported folder; nothing outside of it is read."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def _bytes(self, name: str) -> bytes:
        try:
            place = (self._folder / name).resolve()
            if not place.is_relative_to(self._folder.resolve()):
                said = "names a file outside of itself"
                raise DamagedError(f"{self._folder}: {said}; not imported")
            if place.stat().st_size > MOST_BYTES:
                raise DamagedError(f"{place}: is too large for an export; not imported")
            return place.read_bytes()
        except (OSError, ValueError):  # the name may be none
            raise DamagedError(f"{self._folder}: can't be read; take the whole folder") from None

    def document(self, name: str, kind: type[Document]) -> Document:
        """Return a document, if it is of its kind."""
        try:
            held = TypeAdapter(kind).validate_json(self._bytes(name), strict=True)
            # Numbers without end and broken letters can't be kept.
            canonical({"": TypeAdapter(kind).dump_python(held, mode="json")})
        except (ValidationError, ValueError):
            said = "is damaged, or not as an export is; not imported"
            raise DamagedError(f"{self._folder / name}: {said}") from None
        return held

    def photo(self, listed: _Photo) -> bytes:
        """Return a photo's bytes, which must be those that were exported."""
        data = self._bytes(listed.at)
        if sha256(data).hexdigest() != listed.sha256:
            raise DamagedError(f"{self._folder}: {listed.filename} was changed; not imported")
        return data

    def names(self, within: str) -> list[str]:
        """Return the documents in a folder of it, in order."""
        found = (self._folder / within).glob("*.json")
        return sorted(f"{within}/{path.name}" for path in found)
