"""From the marks of two visits to two photos in their rectified planes."""

from __future__ import annotations

import numpy as np

from assess.marks import CardMarks, Marks
from assess.reading import PhotoReading
from assess.recheck_carry import Pair, PlaneTold, PrintTold
from assess.recheck_marks import PostMarks
from assess.recheck_view import plane_view


def pair_of(
    marks: tuple[Marks, Marks],
    files: tuple[str, str],
    posts: tuple[PostMarks, PostMarks],
    readings: tuple[PhotoReading, PhotoReading],
) -> Pair | None:
    """Return one photo of each visit ready to be compared.

    None where one has no pose, no post or no outline.

    Parameters
    ----------
    marks, files, posts, readings : of the baseline and of the later visit
    """
    views = [
        plane_view(told, file, post, reading)
        for told, file, post, reading in zip(marks, files, posts, readings, strict=True)
    ]
    first, later = views
    if first is None or later is None:
        return None
    planes = [
        PlaneTold(told.rim_plane.u_offset_mm, float(np.deg2rad(told.rim_plane.u_tilt_deg)))
        for told in marks
    ]
    prints = [PrintTold(r.scale.u_common, r.scale.u_axes) for r in readings]
    return Pair(
        first,
        later,
        (planes[0], planes[1]),
        (prints[0], prints[1]),
        same_print(marks[0].card, marks[1].card),
    )


def same_print(first: CardMarks | None, later: CardMarks | None) -> bool:
    """Return whether both visits count as measured with one print: same card, same bars as read.

    A print is one input of both visits then; of two different prints each has its own.
    """
    return first is not None and first == later
