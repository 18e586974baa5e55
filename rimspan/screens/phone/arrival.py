"""Photos from a phone into the draft: kept in the client file first, named in the draft then."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import PurePath

from calibration.photo import PhotoError, is_heic
from rimspan.clientfile import ClientFile, RefusedError
from rimspan.phone_link import Brought
from rimspan.screens.document import Document, with_photo
from rimspan.screens.drafts import change_draft

LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Consultation:
    """Where a link leads: one ear's draft in the client file that the tablet is open on."""

    file: ClientFile
    client: str
    side: str
    by: str = field(default="", compare=False)
    """Who is at work there; another person at the same ear sees the same link."""


@dataclass(frozen=True, slots=True)
class Sent:
    """A file as it came: its name made harmless, and its bytes."""

    name: str
    data: bytes


def plain_name(name: str) -> str:
    """Return a file name without folders and signs that can't be read, the end of a long one."""
    last = re.split(r"[/\\]", name)[-1]
    readable = "".join(sign for sign in last if sign.isprintable()).strip()
    return readable[-LONGEST_NAME:] or "photo"


def kept_name(name: str, data: bytes) -> str:
    """Return the name under which a photo is kept: what is kept of a HEIC is a JPEG."""
    return str(PurePath(name).with_suffix(".jpg")) if is_heic(data) else name


def take_in(where: Consultation, files: Sequence[Sent]) -> Brought:
    """Keep each photo, add it to the newest draft, and return what was kept and refused.

    Raises
    ------
    ClientFileError
        If the client is in the file no more.
    """
    kept: list[tuple[str, str]] = []
    refused: list[str] = []
    for sent in files:
        name = kept_name(sent.name, sent.data)
        try:
            photo = where.file.add_photo(where.client, sent.data, name, where.side, by=where.by)
        except (PhotoError, RefusedError) as error:
            refused.append(f"{sent.name}: {error}")
        else:
            kept.append((name, photo.sha256))

    def with_all(document: Document) -> Document:
        for name, sha256 in kept:
            document = with_photo(document, name, sha256)
        return document

    change_draft(where.file, where.client, where.side, with_all)
    return Brought(tuple(name for name, _ in kept), tuple(refused))
