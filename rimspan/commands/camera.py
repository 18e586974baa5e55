"""``rimspan camera``: a few tilted photos of the card -> a lens profile."""

from __future__ import annotations

import argparse
import json
import textwrap
from pathlib import Path

from calibration.profile import Profile
from rimspan.commands.files import Outputs, checked_suffix
from rimspan.commands.photo_help import photo_at
from rimspan.lens_profiles import lens_from
from rimspan.lens_words import focus_words, profile_lines


def run(arguments: argparse.Namespace) -> str:
    """Write the profile and return what was found.

    Raises
    ------
    AssessError
        If a photo can't be read, the photos aren't of one phone and one size (status 2), one
        shows no card, or together they don't determine the lens (3).
    """
    paths: list[Path] = arguments.photos
    outputs = Outputs(tuple(paths))
    checked_suffix(arguments.out, (".json",), "--out")
    outputs.claim(arguments.out, "--out")
    found, document = lens_from([(str(path), photo_at(path)) for path in paths])
    outputs.add(arguments.out, (json.dumps(document, indent=1) + "\n").encode("utf-8"))
    outputs.write()
    return _said(found, arguments.out)


def _said(found: Profile, out: Path) -> str:
    first, *rest = profile_lines(found)
    note = textwrap.wrap(focus_words(found), 96, initial_indent="  ", subsequent_indent="  ")
    return "\n".join([f"{out}: {first}", *(f"  {line}" for line in rest), *note])
