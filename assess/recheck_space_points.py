"""A visit's points in space that a later visit is held against: the post's ends, lasting places.

Lasting places are what both visits mark under one name: spare dots and dots of other placements.
Pen doesn't last for weeks: a freckle, an old piercing or a scar goes by a spare dot's name.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from assess.marks import Marks
from assess.placing import usual_marks_px
from assess.reading import PhotoReading
from assess.recheck_change import ENDS
from assess.recheck_marks import PostsMarked, straightened
from assess.several_views import several_views
from assess.space import TIE, point_name
from calibration.frames import Array
from calibration.photo import Photo, PhotoError
from calibration.space_points import SpacePoints
from calibration.view_photo import Mark
from calibration.views import ViewsSolved

LEFT_OUT_MM = 8.0
"""A point nearer to the post's middle line than this is left out: it swells (assumption)."""
LEAST_SHARED = 3
LEAST_ACROSS_MM = 1.0
"""Shared points whose spread off one line is less tell no turn about it: refused (assumption)."""

WhyNotSpace = Literal["few_photos", "ends", "few_points", "in_line", "no_match"]


@dataclass(frozen=True, eq=False)
class VisitPoints:
    """A visit's points in space, and the photos that showed any."""

    points: SpacePoints
    photos: tuple[str, ...]

    def ends(self, label: str) -> tuple[str, str] | None:
        """Return the names of a post's ends, entry's and exit's, if both are there."""
        entry, exit_ = (end_name(label, end) for end in ENDS)
        both = entry in self.points.names and exit_ in self.points.names
        return (entry, exit_) if both else None


def end_name(label: str, end: str) -> str:
    """Return the name of a post's end among the points."""
    return point_name(label, f"{end}_end")


def visit_points(
    marks: Marks,
    posts: PostsMarked,
    photos: Mapping[str, Photo | PhotoError],
    readings: Mapping[str, PhotoReading],
) -> VisitPoints | None:
    """Return a visit's points; None where fewer than two photos give any."""
    usual = usual_marks_px(marks, readings)
    also = {
        file: _ends_in(posts, file, readings[file], usual[file])
        for file in readings
        if readings[file].fit is not None
    }
    found = several_views(marks, photos, readings, usual, also)
    if not isinstance(found, ViewsSolved):
        return None
    return VisitPoints(found.points, tuple(view.name for view in found.found.problem.photos))


def _ends_in(
    posts: PostsMarked, file: str, reading: PhotoReading, usual_px: float
) -> dict[str, Mark]:
    width = reading.size[0] if reading.mirrored else None
    found = {}
    for label, post in posts.photos.get(file, {}).items():
        u_px = usual_px if post.u_px is None else post.u_px
        for name, at in straightened(post.points, width).items():
            if name.endswith("_end"):  # two places on the middle line are no points in space
                found[point_name(label, name)] = Mark((float(at[0]), float(at[1])), u_px)
    return found


def shared_points(
    visits: tuple[VisitPoints, VisitPoints], label: str, posts: frozenset[str]
) -> tuple[str, ...]:
    """Return the names of the points that both visits have and that don't go with a post.

    Parameters
    ----------
    visits : the baseline's and the later one's points
    label : of the post that is compared, both ends of which are there
    posts : labels of all placements that have a post at either visit
    """
    first, later = visits
    names = [name for name in first.points.names if name in later.points.names]
    return tuple(
        name
        for name in names
        if (name.startswith(TIE) or name.rpartition("/")[0] not in posts)
        and all(_away_mm(visit, label, name) > LEFT_OUT_MM for visit in visits)
    )


def _away_mm(visit: VisitPoints, label: str, name: str) -> float:
    """Return a point's distance from the post's middle line between its ends."""
    entry, exit_ = (visit.points.place(end_name(label, end)) for end in ENDS)
    way = entry - exit_
    at = visit.points.place(name) - exit_
    along = float(np.clip(at @ way / (way @ way), 0.0, 1.0))
    return float(np.linalg.norm(at - along * way))


def across_mm(places: Array) -> float:
    """Return how far points, (N, 3) mm, spread off the line that fits them best (sd)."""
    off = places - places.mean(axis=0)
    return float(np.linalg.svd(off, compute_uv=False)[1] / np.sqrt(len(places)))
