"""Photos into the draft: kept in the client file first, named in the draft afterwards."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from calibration.photo import PhotoError
from rimspan.screens import state
from rimspan.screens.document import Document, with_photo
from rimspan.screens.store import client_file


class Upload(Protocol):
    """A file as the uploader hands it over."""

    name: str

    def getvalue(self) -> bytes:
        """Return the file's bytes."""
        ...


def take_in(uploads: Iterable[Upload]) -> list[str]:
    """Keep each photo and add it to the open draft; return a line for each that was refused."""
    client, side = state.client_id(), state.side()
    if client is None or side is None:
        return ["No client is open."]
    kept, refused = [], []
    for upload in uploads:
        try:
            photo = client_file().add_photo(client, upload.getvalue(), upload.name, side)
        except PhotoError as error:
            refused.append(f"{upload.name}: {error}")
        else:
            kept.append((upload.name, photo.sha256))

    def with_all(document: Document) -> Document:
        for name, sha256 in kept:
            document = with_photo(document, name, sha256)
        return document

    state.change(with_all)
    return refused
