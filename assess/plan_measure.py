"""The plan of a marks file -> what it is on this rim, and what is drawn of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from assess import plan_report
from assess.criteria import Criteria
from assess.grouping import ENOUGH
from assess.how_many import HowMany, how_many
from assess.marks import Marks
from assess.plan import Plan, lay
from assess.plan_marks import EarlierMarks, PlanMarks
from assess.plan_posts import PlannedPost, planned_posts
from assess.plan_result import PlanOut
from assess.plan_scene import Scene, cover_of, scene, tissue_of
from assess.plan_wear import worn_clearances
from assess.reading import PhotoReading
from assess.spacing import Laid
from assess.together import Together, planned_together
from assess.true_size import DrawnPost, Part, outlines_px
from assess.worn_post import When
from calibration.draws import Draws
from calibration.frames import Array

PLAN_DRAWS = 20_000
"""Enough for a plan: a probability of 0.95 to 0.003, two digits of every u."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnEarlier:
    """What was pierced before: its places, (1 or 2, 2) px, how wide it is there, px; its bar."""

    name: str
    places: Array
    radius_px: float
    bar_px: float


@dataclass(frozen=True, slots=True, eq=False)
class PlanDrawing:
    """What is drawn of a plan on its photo, px as stored: posts by time and label, usable rim."""

    photo: str
    posts: Mapping[When, Mapping[str, tuple[Part, ...]]]
    usable: tuple[Array, ...]
    labels_at: Mapping[str, Array]
    """Where a label stands free: on the axis, outside the upper end."""
    earlier: tuple[DrawnEarlier, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredPlan:
    """A plan's part of the result, and its drawing."""

    out: PlanOut
    drawing: PlanDrawing


def carried(at: Scene, marks: Marks, plan: PlanMarks, criteria: Criteria, draws: Draws) -> HowMany:
    """Return how many posts the rim carries, whatever is planned on it now."""
    return how_many(
        at.rim,
        criteria,
        draws,
        tissue=tissue_of(marks),
        cover_mm=cover_of(marks, plan.jewellery.post_mm, draws),
    )


def measure_plan(
    marks: Marks,
    readings: Mapping[str, PhotoReading],
    criteria: Criteria,
    draws: Draws,
    *,
    at: Scene | None = None,
    carries: HowMany | None = None,
) -> MeasuredPlan | None:
    """Return what the marks' plan is on this rim; None without a plan, contours or a pose.

    Parameters
    ----------
    marks, readings : the document, and what its photos say
    criteria : the studio's limits
    draws : how many more than :data:`PLAN_DRAWS` there are doesn't matter
    at, carries : where they are known: the plan's photo as a rim, and how many that carries
    """
    plan = marks.x_plan
    if plan is None:
        return None
    few = Draws(draws.seed, min(draws.count, PLAN_DRAWS), draws.visit, draws.batch)
    on = at or scene(marks, readings, plan, criteria)
    if on is None:
        return None
    count = carries or carried(on, marks, plan, criteria, few)
    laid_out = on.plan_of(plan)
    laid = None if laid_out is None else lay(laid_out, on.rim.curve)
    posts: tuple[PlannedPost, ...] = ()
    if isinstance(laid, Laid):
        posts = planned_posts(laid, on, plan, marks, criteria, few)
    found = plan_report.Found(
        plan,
        on,
        laid_out,
        laid,
        None if laid_out is None else _together(laid_out, on, marks, plan, criteria, few),
        posts,
        count,
        worn_clearances(marks, readings, plan, posts, few),
        few.count,
    )
    return MeasuredPlan(plan_report.plan_out(found, criteria), drawing_of(on, plan, posts))


def _together(
    planned: Plan, at: Scene, marks: Marks, plan: PlanMarks, criteria: Criteria, draws: Draws
) -> Together:
    return planned_together(
        planned,
        at.rim.curve,
        at.rim.view,
        criteria,
        draws,
        needs=at.rim.needs,
        earlier=at.rim.earlier,
        tissue=tissue_of(marks),
        cover_mm=cover_of(marks, plan.jewellery.post_mm, draws),
    )


def drawing_of(at: Scene, plan: PlanMarks, posts: tuple[PlannedPost, ...]) -> PlanDrawing:
    """Return what is drawn of a plan's posts on its photo."""
    if at.reading.fit is None:
        raise ValueError(f"{at.photo.file!r} has no fit")
    ends = plan.jewellery.top.end(), plan.jewellery.bottom.end()
    width = at.reading.size[0] if at.reading.mirrored else None
    whens: dict[When, dict[str, tuple[Part, ...]]] = {"now": {}, "downsized": {}}
    for post in posts:
        for when, drawn in whens.items():
            # Between the visible edges, which lie a little outside of the real ends: so the
            # post has its own length on the photo.
            seen = float(np.hypot(*(post.exit_mm - post.entry_mm)))
            out = (post.length_mm(when) - seen) / 2.0
            through = _pair(post.entry_mm), _pair(post.exit_mm)
            worn = DrawnPost(*through, post.post_mm, ends, (out, out))
            drawn[post.label] = outlines_px(worn, at.reading.fit, at.height_mm, width)
    arc = at.rim.curve.arc_mm
    usable = [
        at.to_px(at.rim.curve.outer_mm[(arc >= start) & (arc <= end)])
        for start, end in at.rim.profile.stretches(ENOUGH)
    ]
    tops = {post.label: _outside(post, ends[0].height_mm) for post in posts}
    labels = {label: at.to_px(place[None])[0] for label, place in tops.items()}
    return PlanDrawing(
        at.photo.file,
        whens,
        tuple(line for line in usable if len(line) > 1),
        labels,
        tuple(_earlier(each, at) for each in plan.earlier),
    )


def _earlier(found: EarlierMarks, at: Scene) -> DrawnEarlier:
    places = [found.start] if found.end is None else [found.start, found.end]
    px = 1.0 / at.reading.mm_per_px(at.height_mm)
    bar = found.bar_mm * px if found.end is not None else 0.0
    return DrawnEarlier(found.name, np.array(places), found.end_mm / 2.0 * px, bar)


LABEL_MM = 2.5


def _outside(post: PlannedPost, high_mm: float) -> Array:
    """Return a place on the axis outside of the upper end, (2,) mm."""
    out = post.entry_mm - post.exit_mm
    spare = max(float(post.spare_mm("now").mean()), 0.0) / 2.0
    return np.asarray(post.entry_mm + (spare + high_mm + LABEL_MM) * out / np.hypot(*out))


def _pair(place: Array) -> tuple[float, float]:
    return float(place[0]), float(place[1])
