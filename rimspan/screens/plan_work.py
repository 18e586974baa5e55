"""What the plan's page asks for, computed once a visit: the rim, how many, what is planned."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from assess.errors import AssessError
from assess.how_many import HowMany
from assess.marks import Marks
from assess.measure import read_photos
from assess.plan_marks import PLAN, WORN, PlanMarks
from assess.plan_measure import PLAN_DRAWS, MeasuredPlan, carried, measure_plan
from assess.plan_scene import Scene, plan_photo, scene
from assess.read_marks import parse_marks
from assess.reading import PhotoReading
from calibration.draws import Draws
from calibration.photo import Photo, PhotoError
from rimspan.screens import state
from rimspan.screens.plan_draft import new_plan
from rimspan.screens.store import client_file
from rimspan.studio_limits import criteria_of

DRAWS = Draws(1, PLAN_DRAWS)

Marked = Mapping[str, Any]
"""A draft as it is measured, with its plan."""


@dataclass(frozen=True, slots=True)
class Seen:
    """How a draft's photos are come by: their hashes, what each says, and each without pixels."""

    hashes: Mapping[str, str]
    reading: Callable[[str], PhotoReading]
    blank: Callable[[str], Photo | PhotoError]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What a plan stands on: the marks, what their photos say, the rim, how many it carries."""

    marks: Marks
    readings: Mapping[str, PhotoReading]
    scene: Scene
    carries: HowMany


def ground(marks: Marked, seen: Seen) -> Ground | None:
    """Return what a plan stands on; None without a photo that has both contours and a pose."""
    parsed = _parsed(marks)
    if parsed is None:
        return None
    readings = _readings(parsed, seen)
    plan = parsed.x_plan
    file = plan_photo(parsed, readings)
    if plan is None and file is not None:
        plan = new_plan(file)
    if plan is None:
        return None
    limits, photo = criteria_of(client_file()), seen.hashes.get(plan.photo)
    key = [_rim_of(parsed, plan), _limits_of(plan), photo, limits.to_dict()]
    on = state.remembered("rim", key, lambda: scene(parsed, readings, plan, limits), 3)
    if on is None:
        return None
    felt = [_dumped(parsed.caliper), _dumped(parsed.examined)]
    count = state.remembered(
        "carries", [*key, *felt], lambda: carried(on, parsed, plan, limits, DRAWS), 3
    )
    return Ground(parsed, readings, on, count)


def measured(marks: Marked, seen: Seen) -> MeasuredPlan | None:
    """Return the plan of the marks as it is measured; None without one, or without a rim."""
    if PLAN not in marks:
        return None

    limits = criteria_of(client_file())

    def found() -> MeasuredPlan | None:
        on = ground(marks, seen)
        if on is None:
            return None
        return measure_plan(on.marks, on.readings, limits, DRAWS, at=on.scene, carries=on.carries)

    key = [marks, dict(seen.hashes), limits.to_dict()]
    return state.remembered("plan", key, found, most=6)


def _parsed(marks: Marked) -> Marks | None:
    """Return the marks with the photos that a plan looks at alone."""
    if not marks["photos"]:
        return None
    named = (marks.get(PLAN) or {}).get("photo")
    kept = [p for p in marks["photos"] if named is None or p["file"] == named or WORN in p]
    try:
        return parse_marks({**marks, "photos": kept}) if kept else None
    except AssessError:
        return None


def _readings(marks: Marks, seen: Seen) -> Mapping[str, PhotoReading]:
    known = {photo.file: seen.reading(photo.file) for photo in marks.photos}

    def read() -> Mapping[str, PhotoReading]:
        blank = {name: seen.blank(name) for name in known}
        return read_photos(marks, blank, None, known)

    bare = marks.model_copy(update={"x_plan": None}).model_dump(mode="json")
    return state.remembered("plan readings", [bare, dict(seen.hashes)], read, most=3)


def _rim_of(marks: Marks, plan: PlanMarks) -> Any:  # noqa: ANN401  (JSON)
    """Return what the rim of a plan's photo comes from."""
    photo = [p.model_dump(mode="json") for p in marks.photos if p.file == plan.photo]
    whole = marks.model_dump(mode="json", include={"side", "card", "camera", "rim_plane"})
    return [photo, whole]


def _limits_of(plan: PlanMarks) -> Any:  # noqa: ANN401  (JSON)
    names = {"jewellery", "earlier", "upright", "spacing_mm", "gap_mm"}
    return plan.model_dump(mode="json", include=names)


def _dumped(parts: Mapping[str, Any]) -> Any:  # noqa: ANN401  (JSON)
    return {label: part.model_dump(mode="json") for label, part in parts.items()}
