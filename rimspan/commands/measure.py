"""``rimspan measure``: a marks file and its photos -> table, result, plot, report."""

from __future__ import annotations

import argparse
import json
from dataclasses import dataclass, fields
from pathlib import Path

from assess.errors import Fault
from assess.marks import CameraMarks, Marks
from assess.measure import Measurement, measure
from assess.read_marks import parse_marks
from assess.result import result_json
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.assessment import assess_marks
from rimspan.commands.files import (
    CommandRefusedError,
    Outputs,
    checked_suffix,
    read_input,
    refuse,
)
from rimspan.commands.table import budget_text, table
from rimspan.consultation import confirm, report
from rimspan.plot import plot_png
from rimspan.two_sides_draw import sides_file, sides_png

TO_STANDARD_OUTPUT = "-"


@dataclass(frozen=True, slots=True)
class Request:
    """What was asked for on the command line."""

    marks: Path
    out: str | None = None
    plot: Path | None = None
    sides: Path | None = None
    camera: Path | None = None
    confirm: str | None = None
    report: Path | None = None
    report_language: str = "en"
    seed: int = 1
    budget: bool = False


@dataclass(frozen=True, slots=True)
class _Inputs:
    """Everything that was read."""

    document: dict[str, object]
    marks: Marks
    files: dict[str, bytes]
    photos: dict[str, Photo | PhotoError]
    camera: CameraMarks | None


def run(arguments: argparse.Namespace) -> str:
    """Run the command and return what to say."""
    return run_measure(Request(**{f.name: getattr(arguments, f.name) for f in fields(Request)}))


def run_measure(request: Request) -> str:
    """Measure, write what was asked for, and return the table or the JSON.

    Raises
    ------
    AssessError
        For bad input (status 2) or where nothing can be measured (3); nothing is written.
    NotConfirmedError
        If a report is asked for without a named piercer.
    """
    if request.confirm is not None and not request.confirm.strip():
        raise refuse("--confirm", "names nobody", "give the name of the piercer who decides")
    if request.report is not None and request.confirm is None:
        raise refuse(
            str(request.report),
            "--report is an assessment, and nobody has confirmed it",
            'add --confirm "NAME" of the piercer who examined the ear and decides',
        )
    inputs = _read(request)
    outputs = _claims(request, inputs)
    found = measure(
        inputs.marks,
        inputs.photos,
        camera=inputs.camera,
        seed=request.seed,
        confirmed_by=request.confirm.strip() if request.confirm else None,
        source=str(request.marks),
    )
    text = result_json(found.result)
    if request.out is not None and request.out != TO_STANDARD_OUTPUT:
        outputs.add(Path(request.out), text.encode("utf-8"))
    _draw(request, inputs, found, outputs)
    outputs.write()
    if request.out == TO_STANDARD_OUTPUT:
        return text
    said = table(found.result, request.marks.name)
    return f"{said}\n{budget_text(found.result)}" if request.budget else said


def _read(request: Request) -> _Inputs:
    source = str(request.marks)
    data = read_input(request.marks)
    marks = parse_marks(data, source)
    camera = _profile(request.camera) if request.camera is not None else None
    document = json.loads(data.decode("utf-8-sig"))
    if camera is not None and marks.camera is None:
        document["camera"] = camera.model_dump(mode="json", exclude_none=True)
    files: dict[str, bytes] = {}
    photos: dict[str, Photo | PhotoError] = {}
    faults: list[Fault] = []
    for i, entry in enumerate(marks.photos):
        where = f"{source}: photos[{i}].file: {entry.file}"
        try:
            files[entry.file] = read_input(request.marks.parent / entry.file, where=where)
            photos[entry.file] = read_photo(files[entry.file])
        except PhotoError as error:
            faults.append(Fault(where, _unpointed(error.seen), error.do))
        except CommandRefusedError as error:
            faults += error.faults
    if faults:
        raise CommandRefusedError(faults)
    return _Inputs(document, marks, files, photos, camera)


def _unpointed(sentence: str) -> str:
    return sentence.rstrip(". ")


def _profile(path: Path) -> CameraMarks | None:
    """Return the camera of a lens profile, which may hold more than that."""
    data = read_input(path)
    try:
        document = json.loads(data.decode("utf-8-sig"))
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise refuse(str(path), "is not JSON", "give a lens profile") from None
    if not isinstance(document, dict) or not isinstance(document.get("camera"), dict):
        raise refuse(str(path), "holds no camera object", 'give {"camera": {"fx": ...}}')
    # A profile's camera is a marks file's camera: the same rules and the same words for faults.
    bare = {"format": "rimspan-marks/1", "side": "left", "photos": [{"file": "any"}]}
    return parse_marks({**bare, "camera": document["camera"]}, str(path)).camera


def _claims(request: Request, inputs: _Inputs) -> Outputs:
    """Refuse outputs that can't be written before the measuring begins."""
    folder = request.marks.parent
    read = [request.marks, *(folder / name for name in inputs.files)]
    outputs = Outputs((*read, request.camera) if request.camera else tuple(read))
    if request.out is not None and request.out != TO_STANDARD_OUTPUT:
        outputs.claim(Path(request.out), "--out")
    for path, suffixes, option in (
        (request.plot, (".png",), "--plot"),
        (request.sides, (".svg", ".png"), "--sides"),
        (request.report, (".pdf",), "--report"),
    ):
        if path is not None:
            checked_suffix(path, suffixes, option)
            outputs.claim(path, option)
    return outputs


def _draw(request: Request, inputs: _Inputs, found: Measurement, outputs: Outputs) -> None:
    """Make the picture and the report, where asked for."""
    if request.plot is not None:
        outputs.add(request.plot, plot_png(found, inputs.marks, inputs.photos))
    if request.sides is not None:
        svg = request.sides.suffix.lower() == ".svg"
        data = sides_file(found.result).encode() if svg else sides_png(found.result)
        outputs.add(request.sides, data)
    if request.report is not None:
        assessment = assess_marks(inputs.document, inputs.files, seed=request.seed)
        confirmation = confirm(assessment, request.confirm or "", examined_and_decides=True)
        picture = plot_png(
            found, inputs.marks, inputs.photos, with_words=False, code=request.report_language
        )
        pdf = report(assessment, confirmation, picture_png=picture, code=request.report_language)
        outputs.add(request.report, pdf)
