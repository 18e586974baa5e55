"""A marks file's bytes -> :class:`assess.marks.Marks`, or a line for each fault."""

from __future__ import annotations

import difflib
import json
import types
import typing
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from assess.crossing import crosses, crosses_itself
from assess.errors import Fault, MarksError
from assess.marks import Marks, PhotoMarks, PlacementMarks
from calibration.card import UnknownCardError, card_by_id


def parse_marks(data: str | bytes | Mapping[str, Any], source: str = "marks") -> Marks:
    """Return the marks that ``data`` holds.

    Parameters
    ----------
    data : str, bytes or mapping
        The JSON text, or the document it stands for.
    source : str
        The file's name, for the messages.

    Raises
    ------
    MarksError
        With one fault for everything that is wrong.
    """
    text = json.dumps(data) if isinstance(data, Mapping) else _text(data, source)
    document = _load(text, source)
    try:
        marks = Marks.model_validate(document)
    except ValidationError as error:
        raise MarksError(_faults(error, source)) from None
    faults = [Fault(f"{source}: {where}", what, do) for where, what, do in _contradictions(marks)]
    if faults:
        raise MarksError(faults)
    return marks


def _text(data: str | bytes, source: str) -> str:
    try:
        return data.decode("utf-8-sig") if isinstance(data, bytes) else data
    except UnicodeDecodeError:
        raise MarksError([Fault(source, "is not UTF-8 text", "save it as UTF-8 JSON")]) from None


def _load(text: str, source: str) -> dict[str, Any]:
    def no_constant(name: str) -> float:
        raise ValueError(f"holds {name}, which is no number")

    try:
        document = json.loads(text, parse_constant=no_constant)
    except json.JSONDecodeError as error:
        where = f"{source}: line {error.lineno}, column {error.colno}"
        raise MarksError([Fault(where, f"is not JSON: {error.msg}", "mend it there")]) from None
    except (ValueError, RecursionError) as error:
        raise MarksError([Fault(source, str(error), "give a finite number")]) from None
    if not isinstance(document, dict):
        fault = Fault(source, "must be a JSON object", 'begin with {"format": "rimspan-marks/1"}')
        raise MarksError([fault])
    return document


def _path(location: tuple[int | str, ...]) -> str:
    path = ""
    for part in location:
        if part in {"id1", "ruler"}:  # pydantic's name of the union's branch, not a field
            continue
        path += f"[{part}]" if isinstance(part, int) else (f".{part}" if path else str(part))
    return path or "the document"


def _faults(error: ValidationError, source: str) -> list[Fault]:
    faults = []
    items = error.errors()
    for item in items:
        if item["type"] == "too_short" and _has_deeper(item["loc"], items):
            continue  # the part that is wrong was left out of the count
        where = f"{source}: {_path(item['loc'])}"
        if item["type"] == "extra_forbidden":
            faults.append(Fault(where, "is not a known name", _nearest(item["loc"])))
        elif item["type"] == "too_short":
            least = item["ctx"]["min_length"]
            faults.append(Fault(where, "holds too little", f"give at least {least}"))
        elif item["type"] == "missing":
            faults.append(Fault(where, "is missing", "add it"))
        else:
            said = item["msg"].removeprefix("Value error, ")
            got = json.dumps(item["input"], default=str)[:60]
            faults.append(Fault(where, f"{said} (got {got})", "correct the value"))
    return faults


def _has_deeper(location: tuple[int | str, ...], items: Sequence[ErrorDetails]) -> bool:
    return any(
        len(item["loc"]) > len(location) and item["loc"][: len(location)] == location
        for item in items
    )


def _nearest(location: tuple[int | str, ...]) -> str:
    known = _known_names(location)
    close = difflib.get_close_matches(str(location[-1]), known, n=1, cutoff=0.0)
    return f"did you mean {close[0]!r}?" if close else "leave it out"


def _known_names(location: tuple[int | str, ...]) -> list[str]:
    """Return the field names of the model in which the unknown name stood."""
    models: list[type[BaseModel]] = [Marks]
    for part in location[:-1]:
        if isinstance(part, str):
            fields = [m.model_fields[part].annotation for m in models if part in m.model_fields]
            models = [m for field in fields for m in _models_in(field)] or models
    return [name for model in models for name in model.model_fields]


def _models_in(annotation: Any) -> list[type[BaseModel]]:  # noqa: ANN401  (any annotation)
    if isinstance(annotation, type) and not isinstance(annotation, types.GenericAlias):
        return [annotation] if issubclass(annotation, BaseModel) else []
    return [model for part in typing.get_args(annotation) for model in _models_in(part)]


def _contradictions(marks: Marks) -> list[tuple[str, str, str]]:
    found: list[tuple[str, str, str]] = []
    if marks.card is not None:
        try:
            card_by_id(marks.card.id)
        except UnknownCardError as error:
            found.append(("card.id", str(error), "give the id that is printed on the card"))
    files = [photo.file for photo in marks.photos]
    for i, photo in enumerate(marks.photos):
        where = f"photos[{i}]"
        if photo.file in files[:i]:
            found.append((f"{where}.file", "is listed twice", "keep one entry for each photo"))
        found += _contour_faults(where, photo)
        labels = [p.label for p in photo.placements]
        for j, placement in enumerate(photo.placements):
            at = f"{where}.placements[{j}]"
            if placement.label in labels[:j]:
                found.append((f"{at}.label", "is used twice in this photo", "give another label"))
            found += _placement_faults(at, placement)
    found += _unpaired(marks)
    return found


def _contour_faults(where: str, photo: PhotoMarks) -> list[tuple[str, str, str]]:
    found = []
    lines = {
        name: np.asarray(line, dtype=np.float64)
        for name, line in (("outer_rim", photo.outer_rim), ("inner_rim", photo.inner_rim))
        if line is not None
    }
    for name, line in lines.items():
        if float(np.ptp(line, axis=0).max()) < 1.0:
            found.append((f"{where}.{name}", "has no length", "mark at least two places"))
        elif crosses_itself(line):
            found.append((f"{where}.{name}", "crosses itself", "mark it from front to back again"))
    if len(lines) == 2 and crosses(lines["outer_rim"], lines["inner_rim"]):
        found.append(
            (f"{where}.inner_rim", "crosses outer_rim", "move the points so that they stay apart")
        )
    return found


def _placement_faults(at: str, placement: PlacementMarks) -> list[tuple[str, str, str]]:
    found = []
    points = placement.points()
    for first, second in (("entry", "exit"), ("exit", "below"), ("crest", "floor")):
        if first in points and second in points:
            gap = np.subtract(points[first], points[second])
            if float(np.hypot(*gap)) < 1.0:
                where = f"{at}.{second}"
                found.append((where, f"is at the same place as {first}", "mark the two apart"))
    for kind in ("snapped", "outline"):
        for name in getattr(placement, kind):
            if name not in points:
                found.append((f"{at}.{kind}", f"names {name}, which isn't marked", "mark it too"))
    if placement.snapped and placement.u_px is None:
        found.append((f"{at}.u_px", "is missing", "snapped points need their u_px"))
    return found


def _unpaired(marks: Marks) -> list[tuple[str, str, str]]:
    found = []
    for label, reading in marks.caliper.items():
        for name in ("channel_mm", "fold_depth_mm", "relief_mm"):
            if getattr(reading, name) is not None and getattr(reading, f"u_{name}") is None:
                found.append((f"caliper.{label}.u_{name}", "is missing", "say how well it is read"))
    return found
