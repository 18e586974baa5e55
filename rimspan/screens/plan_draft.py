"""The placement plan in the draft of a consultation: kept with the marks, saved with them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from assess.plan_marks import PLAN, PLAN_FORMAT, WORN, Approval, PlanMarks
from rimspan.screens import state
from rimspan.screens.document import Document, changed
from rimspan.screens.store import client_file
from rimspan.studio_limits import criteria_of

DRAWING = ("placements", "jewellery", "photo")
"""What the client approves: another of these, and the approval is gone."""


def spacing_mm() -> float:
    """Return what is kept between posts where the plan says nothing of its own: the limit."""
    return criteria_of(client_file()).limits["spacing"].low or 0.0


def plan_of(document: Mapping[str, Any]) -> PlanMarks | None:
    """Return the plan of a draft, if it has one."""
    held = document.get(PLAN)
    return None if held is None else PlanMarks.model_validate(dict(held))


def with_plan(document: Mapping[str, Any], plan: PlanMarks | None) -> Document:
    """Return the draft with another plan, which makes it another assessment.

    A plan that is drawn otherwise than the one that was approved isn't approved.
    """
    old = plan_of(document)
    if plan is not None and old is not None and plan.approval == old.approval:
        same = all(getattr(plan, name) == getattr(old, name) for name in DRAWING)
        plan = plan if same else plan.model_copy(update={"approval": None})
    held = None if plan is None else plan.model_dump(mode="json", exclude_none=True)
    return changed(document, **{PLAN: held})


def keep(edit: Callable[[PlanMarks], PlanMarks], photo: str) -> None:
    """Change the open draft's plan; one that isn't there yet begins in that photo."""
    state.change(lambda draft: with_plan(draft, edit(plan_of(draft) or new_plan(photo))))


def new_plan(photo: str) -> PlanMarks:
    """Return a plan with nothing in it."""
    return PlanMarks(format=PLAN_FORMAT, photo=photo)


def approval(answer: str, at: str, by: str) -> Approval:
    """Return what the client said to the drawing."""
    return Approval(answer="approved" if answer == "approved" else "anew", at=at, by=by)


def without_plan(marks: Mapping[str, Any]) -> Document:
    """Return marks without the plan and what is worn: what is measured of the ear itself."""
    photos = [{n: v for n, v in photo.items() if n != WORN} for photo in marks["photos"]]
    return {n: v for n, v in marks.items() if n != PLAN} | {"photos": photos}
