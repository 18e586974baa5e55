"""A plan of the marks file set on its photo's rim: px to mm and back, what limits it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from assess import relief as tissue_depth
from assess.band import contours_of
from assess.criteria import Criteria
from assess.grouping import Rim
from assess.marks import Marks, PhotoMarks
from assess.plan import Plan, Planned
from assess.plan_marks import EarlierMarks, PlanMarks, PlannedMarks
from assess.plan_photo import rim_in_photo
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading
from assess.spacing import Earlier, Needs
from assess.verdict import Tissue
from calibration.draws import Draws
from calibration.find import unmirror
from calibration.frames import Array


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """The photo that is planned in, and its rim with all that limits where posts may go."""

    photo: PhotoMarks
    reading: PhotoReading
    rim: Rim
    height_mm: float

    def to_mm(self, points_px: Array) -> Array:
        """Return places of the photo as stored, (N, 2) px, in the rim's plane, mm."""
        return in_mm(points_px, self.reading, self.height_mm)

    def to_px(self, points_mm: Array) -> Array:
        """Return places of the rim's plane, (N, 2) mm, in the photo as stored, px."""
        if self.reading.fit is None:
            raise ValueError("a photo without a fit has no millimetres")
        flat = np.column_stack([points_mm, np.full(len(points_mm), -self.height_mm)])
        seen = self.reading.fit.project(flat)
        return unmirror(seen, self.reading.size[0]) if self.reading.mirrored else seen

    def plan_of(self, plan: PlanMarks) -> Plan | None:
        """Return the plan on this rim, from front to back; None where nothing is planned."""
        ends = plan.jewellery.top.width_mm, plan.jewellery.bottom.width_mm
        placed = [
            Planned(each.label, self.rim.curve.arc_of(at), each.lean_deg, *ends)
            for each in plan.placements
            for at in self.to_mm(np.array([each.entry]))
        ]
        return Plan(tuple(sorted(placed, key=lambda each: each.arc_mm))) if placed else None

    def marks_of(self, plan: Plan) -> tuple[PlannedMarks, ...]:
        """Return a plan's placements as the marks file has them."""
        places = self.to_px(self.rim.curve.at(plan.arc_mm))
        return tuple(
            PlannedMarks(
                label=each.label,
                entry=(round(float(x), 2), round(float(y), 2)),
                lean_deg=round(each.lean_deg, 2),
            )
            for each, (x, y) in zip(plan.placements, places, strict=True)
        )


def in_mm(points_px: Array, reading: PhotoReading, height_mm: float) -> Array:
    """Return places of a photo as stored, (N, 2) px, in the plane ``height_mm`` up, mm."""
    if reading.fit is None:
        raise ValueError("a photo without a fit has no millimetres")
    return reading.fit.on_plane(reading.straight(points_px), height_mm)


def plan_photo(marks: Marks, readings: Mapping[str, PhotoReading]) -> str | None:
    """Return the photo to plan in: both contours, and the least tilt; None without one."""
    able = [
        (tilt, i)
        for i, photo in enumerate(marks.photos)
        if contours_of(photo) is not None
        and readings[photo.file].fit is not None
        and (tilt := readings[photo.file].tilt_deg) is not None
        and tilt <= ONE_VIEW_TILT_DEG
    ]
    return marks.photos[min(able)[1]].file if able else None


def scene(
    marks: Marks, readings: Mapping[str, PhotoReading], plan: PlanMarks, criteria: Criteria
) -> Scene | None:
    """Return the plan's photo as a rim to plan on; None without both contours and a pose.

    Parameters
    ----------
    marks, readings : the document, and what its photos say
    plan : of these marks
    criteria : the studio's limits
    """
    photo = next((each for each in marks.photos if each.file == plan.photo), None)
    if photo is None:
        return None
    reading = readings[photo.file]
    found = rim_in_photo(photo, reading, marks.rim_plane, marks.side)
    if found is None or reading.target_px is None:
        return None
    curve, view = found
    height_mm = marks.rim_plane.offset_mm
    limit = criteria.limits["spacing"]
    if plan.spacing_mm is not None:
        limit = replace(limit, low=plan.spacing_mm)
    rim = Rim(
        curve,
        view,
        Needs(limit, plan.gap_mm),
        tuple(_earlier(each, reading, height_mm) for each in plan.earlier),
        criteria.limits["channel"],
        (plan.jewellery.top.width_mm, plan.jewellery.bottom.width_mm),
        plan.upright,
    )
    return Scene(photo, reading, rim, height_mm)


def _earlier(found: EarlierMarks, reading: PhotoReading, height_mm: float) -> Earlier:
    ends = np.array([found.start, found.end or found.start])
    start, end = in_mm(ends, reading, height_mm).tolist()
    return Earlier(
        found.name,
        (start[0], start[1]),
        (end[0], end[1]),
        found.end_mm,
        found.bar_mm if found.end is not None else 0.0,
        found.planned,
    )


def tissue_of(marks: Marks) -> Tissue:
    """Return how firmly the rim holds, by the piercer's hands: firm only where all they felt is."""
    felt = {each.tissue for each in marks.examined.values()}
    if "soft" in felt:
        return "soft"
    return "firm" if felt == {"firm"} else "not_examined"


def cover_of(marks: Marks, post_mm: float, draws: Draws) -> Array | None:
    """Return draws of the tissue left beside a post where the rim was read thinnest, (M,) mm."""
    read = {
        label: each.fold_depth_mm
        for label, each in marks.caliper.items()
        if each.fold_depth_mm is not None
    }
    if not read:
        return None
    thinnest = min(read, key=lambda label: read[label])
    sides = tissue_depth.cover(marks.caliper[thinnest], post_mm, thinnest, draws)
    return None if sides is None else np.asarray(np.minimum(*sides))
