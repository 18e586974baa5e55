"""``rimspan snap``: the pen dots nearest to points of a photo."""

from __future__ import annotations

import argparse
import json

import numpy as np

from rimspan.commands.photo_help import scaled_photo
from rimspan.marking_help import dot_answer


def run(arguments: argparse.Namespace) -> str:
    """Return a JSON list: for each point ``point`` and ``u_px``, or ``none`` and why."""
    points = np.array(arguments.near, dtype=np.float64)
    photo = scaled_photo(arguments.photo, points)
    return json.dumps([dot_answer(photo.picture, at, photo.mm_per_px) for at in points])
