"""``rimspan trace``: a rim's contour proposed from a few taps."""

from __future__ import annotations

import argparse
import json

from rimspan.commands.files import refuse
from rimspan.commands.photo_help import points_in, scaled_photo
from rimspan.marking_help import line_answer
from tracing.contour import LEAST_TAPS, NoContour, trace


def run(arguments: argparse.Namespace) -> str:
    """Return the proposal as JSON: ``line``, ``u_px`` and ``gaps``."""
    taps = points_in(arguments.taps)
    if len(taps) < LEAST_TAPS:
        raise refuse(
            str(arguments.taps),
            f"holds {len(taps)} points",
            "tap three or four places along the rim, in order",
        )
    photo = scaled_photo(arguments.photo, taps)
    found = trace(photo.picture, taps, arguments.kind, photo.mm_per_px)
    if isinstance(found, NoContour):
        raise refuse(str(arguments.taps), found.seen.rstrip(". "), found.do)
    return json.dumps(line_answer(found))
