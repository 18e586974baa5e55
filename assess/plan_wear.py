"""Worn things against a plan: photos in which something is worn, and where it touches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from assess.marks import Marks, PhotoMarks
from assess.placing import mark_sigma_px
from assess.plan_marks import PlanMarks
from assess.plan_posts import WHENS, PlannedPost
from assess.plan_scene import in_mm
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading
from assess.wear import Site, WearClearance, WornLine, wear_clearance
from calibration.draws import Draws


def worn_clearances(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    plan: PlanMarks,
    posts: Sequence[PlannedPost],
    draws: Draws,
) -> tuple[tuple[str, WearClearance], ...]:
    """Return, with its photo, how far each worn thing is from both ends of each post.

    All of the spare length may stand out at either end, so all of it counts at both.

    Parameters
    ----------
    marks, readings : the document, and what its photos say
    plan, posts : what is planned
    draws : Draws
    """
    found: list[tuple[str, WearClearance]] = []
    for photo in marks.photos:
        reading = readings[photo.file]
        if not measurable(photo, reading):
            continue
        line, usual = _line(photo, reading, marks.rim_plane.offset_mm)
        u_scale = float(np.hypot(reading.scale.u_common, max(reading.scale.u_axes)))
        for post in posts:
            for when in WHENS:
                site = _site(photo, reading, marks, plan, post, when, usual)
                if site is not None:
                    both = wear_clearance(line, site, when, draws, u_scale)
                    found += [(photo.file, each) for each in both]
    return tuple(found)


def measurable(photo: PhotoMarks, reading: PhotoReading) -> bool:
    """Return whether a photo shows something worn, marked, square-on enough to be measured."""
    worn = photo.x_worn
    straight = reading.tilt_deg is not None and reading.tilt_deg <= ONE_VIEW_TILT_DEG
    return worn is not None and worn.line is not None and reading.fit is not None and straight


def _line(photo: PhotoMarks, reading: PhotoReading, height_mm: float) -> tuple[WornLine, float]:
    worn = photo.x_worn
    if worn is None or worn.line is None:
        raise ValueError(f"{photo.file!r} shows nothing worn")
    usual = mark_sigma_px(photo, reading, height_mm) * reading.mm_per_px(height_mm)
    line = in_mm(np.asarray(worn.line, dtype=np.float64), reading, height_mm)
    return WornLine(worn.thing, line, usual, worn.name), usual


def _site(
    photo: PhotoMarks,
    reading: PhotoReading,
    marks: Marks,
    plan: PlanMarks,
    post: PlannedPost,
    when: str,
    usual: float,
) -> Site | None:
    seen = photo.x_worn.placements if photo.x_worn is not None else ()
    at = next((each for each in seen if each.label == post.label), None)
    if at is None:
        return None
    ends = np.array([at.entry, at.exit], dtype=np.float64)
    entry, exit_ = in_mm(ends, reading, marks.rim_plane.offset_mm)
    out = np.maximum(post.spare_mm("now" if when == "now" else "downsized"), 0.0)
    jewellery = plan.jewellery
    both = jewellery.top.end(), jewellery.bottom.end()
    return Site(post.label, entry, exit_, both, (out, out), usual)
