"""Several photos of one ear: what each is asked for, and where dots of the others lie in it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from assess.errors import AssessError
from assess.other_views import OtherDot, other_dots
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from assess.space import TIE
from assess.view_guide import Guide, guide, one_view_u_mm
from assess.view_set import Side, is_upper, view_of
from rimspan.marking_help import scale_of
from rimspan.screens import state, work
from rimspan.screens.document import files, hashes, of_ear

SQUARE = ("outer_rim", "inner_rim", "entry", "exit", "below", "crest", "floor", "tie")
ABOVE = ("entry", "crest", "floor", "below", "tie")
BELOW = ("exit", "floor", "below", "crest", "tie")
"""What a photo is asked for, in the order in which it is marked; all else can be marked too."""


def is_set(document: Mapping[str, Any]) -> bool:
    """Return whether the draft has several photos with a pose: dots are measured in space."""
    return sum(work.reading(document, name).fit is not None for name in of_ear(document)) > 1


def offers(reading: PhotoReading, side: Side) -> tuple[str, ...]:
    """Return what one of several photos of that ear is asked for."""
    view = view_of(reading, side)
    if view is None or view.name == "square-on":
        return SQUARE
    return ABOVE if is_upper(view) else BELOW


def part(document: Mapping[str, Any], file: str) -> dict[str, Any] | None:
    """Return a photo's part among several as the marking takes it, or None where it is alone.

    ``offers`` is what it is asked for, ``others`` where dots of other photos lie in it.
    """
    if not is_set(document):
        return None
    reading = work.reading(document, file)
    return {
        "offers": list(offers(reading, document["side"])),
        "others": _others(document, file, reading),
    }


def guide_of(document: Mapping[str, Any]) -> tuple[Guide, float | None]:
    """Return which photo to take next, and U of the channel by one photo alone, mm."""
    readings = [work.reading(document, name) for name in of_ear(document)]
    marks = work.to_measure(document, of_ear(document))

    def found() -> tuple[Guide, float | None]:
        try:
            parsed = parse_marks(marks)
        except AssessError:
            return guide(readings, None, document["side"]), None
        alone = one_view_u_mm(parsed, {reading.file: reading for reading in readings})
        return guide(readings, parsed, parsed.side), alone

    return state.remembered("guide", [marks, hashes(document)], found, most=2)


def _others(document: Mapping[str, Any], file: str, reading: PhotoReading) -> dict[str, Any] | None:
    scale = scale_of(reading, float(document.get("rim_plane", {}).get("offset_mm", 0.0)))
    if scale is None:
        return None
    ties = {name for photo in document["photos"] for name in photo.get("ties", {})}
    dots = [_told(dot) for dot in _dots(document, file)]
    return {"dots": dots, "ties": sorted(ties), "mm_per_px": scale}


def _dots(document: Mapping[str, Any], file: str) -> tuple[OtherDot, ...]:
    marks = work.to_measure(document)
    elsewhere = [photo for photo in marks["photos"] if photo["file"] != file]
    here = {"file": file, "placements": [], "ties": {}}

    def found() -> tuple[OtherDot, ...]:
        try:
            parsed = parse_marks(marks | {"photos": [*elsewhere, here]})
        except AssessError:
            return ()
        readings = {name: work.reading(document, name) for name in files(document)}
        return other_dots(parsed, readings, file)

    key = [file, elsewhere, marks.get("rim_plane"), hashes(document)]
    return state.remembered("other dots", key, found)


def _told(dot: OtherDot) -> dict[str, Any]:
    line = np.round(dot.line_px, 2).tolist()
    said = {"line": line, "first": dot.first, "files": list(dot.files)}
    if dot.name.startswith(TIE):
        return {"kind": "tie", "name": dot.name.removeprefix(TIE), **said}
    label, kind = dot.name.rsplit("/", 1)
    return {"kind": kind, "label": label, **said}
