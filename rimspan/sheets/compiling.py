"""What every sheet shares: text that stays text, and a PDF made in memory."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from importlib import resources
from typing import Any, Literal

import typst
from PIL import Image

from rimspan.typed import shown

Paper = Literal["a4", "us-letter"]
PAPERS: tuple[Paper, ...] = ("a4", "us-letter")
NO_FONT = "could not be displayed with font"
"""How typst says that no font has a letter."""


def _shown(value: Any) -> Any:  # noqa: ANN401  (JSON data)
    if isinstance(value, str):
        return shown(value)
    if isinstance(value, Mapping):
        return {name: _shown(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [_shown(item) for item in value]
    return value


def as_jpeg(picture_png: bytes) -> bytes:
    """Return the picture as a JPEG: a tenth of the size, and none of it is measured again."""
    stream = io.BytesIO()
    with Image.open(io.BytesIO(picture_png)) as picture:
        picture.convert("RGB").save(stream, "JPEG", quality=90, subsampling=0)
    return stream.getvalue()


def compiled(sheet: str, data: Mapping[str, Any], picture: bytes | None = None) -> bytes:
    """Return the PDF of a sheet; data and picture are all it can read.

    It is PDF/UA-1, which forbids a letter that no font of this machine has.  A name in such letters
    must not stop a sheet: then it is tagged all the same, and shows a box for each of them.
    """
    source, given = _source(sheet), _given(data, picture)
    try:
        pdf = typst.compile(source, format="pdf", sys_inputs=given, pdf_standards=["ua-1"])
    except typst.TypstError as fault:
        if NO_FONT not in str(fault):
            raise
        pdf = typst.compile(source, format="pdf", sys_inputs=given)
    if not isinstance(pdf, bytes):
        raise TypeError(f"'pdf' must be bytes (got {type(pdf).__name__})")
    return pdf


def pages(sheet: str, data: Mapping[str, Any], picture: bytes | None = None) -> int:
    """Return how many pages a sheet takes: it says so under the label ``pages``."""
    found = typst.query(
        _source(sheet), "<pages>", field="value", one=True, sys_inputs=_given(data, picture)
    )
    return int(json.loads(found))


def _source(sheet: str) -> bytes:
    return resources.files("rimspan.sheets").joinpath(sheet).read_bytes()


def _given(data: Mapping[str, Any], picture: bytes | None) -> dict[str, str]:
    # All of it in memory: a client's photo is never written to the disk, not for a moment either.
    given = {"data": json.dumps(_shown(data))}
    return given if picture is None else given | {"picture": json.dumps(list(picture))}
