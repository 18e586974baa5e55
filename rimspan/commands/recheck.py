"""``rimspan recheck``: a later visit's marks held against the baseline's."""

from __future__ import annotations

import argparse
import json
import textwrap
from pathlib import Path

from assess.checks import refuse_marks_outside
from assess.errors import Fault
from assess.measure import DRAWS, read_photos
from assess.read_marks import parse_marks
from assess.recheck_marks import parse_posts
from assess.recheck_result import recheck_document, recheck_sentences
from assess.recheck_visit import Visit, recheck
from calibration.photo import Photo, PhotoError, read_photo
from rimspan.commands.files import CommandRefusedError, Outputs, read_input, refuse

WIDTH = 96
TO_STANDARD_OUTPUT = "-"


def run(arguments: argparse.Namespace) -> str:
    """Return what changed, in lines for people, or the JSON document.

    Raises
    ------
    CommandRefusedError, MarksError
        For bad input; nothing is written.
    """
    baseline, first = _visit(arguments.baseline)
    now, second = _visit(arguments.marks)
    if baseline.marks.side != now.marks.side:
        raise refuse(
            f"{arguments.marks}: side",
            f"is the {now.marks.side} ear, the baseline's is the {baseline.marks.side} one",
            "give two visits of one ear",
        )
    outputs = Outputs((*first, *second))
    to_file = arguments.out is not None and arguments.out != TO_STANDARD_OUTPUT
    if to_file:
        outputs.claim(Path(arguments.out), "--out")
    found = recheck(baseline, now, seed=arguments.seed)
    if not found:
        raise refuse(
            str(arguments.marks),
            "marks no post that the baseline marks too",
            'mark it in both: "x_post" in a placement (docs/method.md)',
        )
    lengths = {each.label: now.posts.of(each.label).length_mm for each in found}
    document = recheck_document(found, lengths, arguments.seed, DRAWS)
    text = json.dumps(document, indent=1, ensure_ascii=False) + "\n"
    if arguments.out == TO_STANDARD_OUTPUT:
        return text
    if to_file:
        outputs.add(Path(arguments.out), text.encode())
        outputs.write()
    lines = []
    for each in found:
        for said in recheck_sentences(each, lengths[each.label]):
            lines += textwrap.wrap(said, WIDTH, subsequent_indent="  ")
    return "\n".join(lines)


def _visit(path: Path) -> tuple[Visit, list[Path]]:
    """Return a visit as its marks file and photos have it, and which files were read."""
    data, source = read_input(path), str(path)
    marks = parse_marks(data, source)
    posts = parse_posts(data, source)
    photos: dict[str, Photo | PhotoError] = {}
    faults: list[Fault] = []
    for i, entry in enumerate(marks.photos):
        where = f"{source}: photos[{i}].file: {entry.file}"
        try:
            photos[entry.file] = read_photo(read_input(path.parent / entry.file, where=where))
        except PhotoError as error:
            faults.append(Fault(where, error.seen.rstrip(". "), error.do))
        except CommandRefusedError as error:
            faults += error.faults
    if faults:
        raise CommandRefusedError(faults)
    refuse_marks_outside(marks, photos, source)
    visit = Visit(marks, posts, photos, read_photos(marks, photos, None))
    return visit, [path, *(path.parent / entry.file for entry in marks.photos)]
