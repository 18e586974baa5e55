"""The other ear: a plan mirrored onto it, and how both differ."""

from __future__ import annotations

import streamlit as st

from assess.plan import Plan, differences, onto
from assess.plan_marks import PlanMarks
from assess.plan_words import difference_sentence, moved_sentence
from rimspan.screens import plan_bench, plan_draft, plan_work, state
from rimspan.screens.drafts import change_draft, draft_of
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.screens.svg import Side
from rimspan.typed import in_html

LACKS = "Mark both lines of the rim in a photo of the other ear, and the plan can go there."
SHORT = "The other ear's rim is marked too short for it: mark its lines farther, and try again."


def other_ear(plan: PlanMarks, on: plan_work.Ground) -> None:
    """Draw, folded, the way to the other ear and the difference of both plans."""
    side: Side = "left" if state.side() == "right" else "right"
    with st.expander("The other ear"):
        there = _there(side)
        if there is None:
            st.write(LACKS)
            return
        ground, theirs = there
        if plan.placements:
            st.button(f"Mirror this plan onto the {side} ear", on_click=_mirror, args=(side,))
        for line in _differences(plan, on, theirs, ground):
            html(f'<p class="rim-next">{in_html(line)}</p>')
        said = state.value("mirrored")
        if said:
            html(f'<p class="rim-quiet" role="status">{in_html(str(said))}</p>')


def _there(side: Side) -> tuple[plan_work.Ground, PlanMarks] | None:
    """Return the other ear's rim and its plan, an empty one if it has none."""
    client = state.client_id()
    if client is None or client_file().draft(client, side) is None:
        return None
    document = draft_of(client_file(), client, side)
    ground = plan_bench.on_ground(document)
    if ground is None:
        return None
    held = plan_draft.plan_of(document)
    return ground, held or plan_draft.new_plan(ground.scene.photo.file)


def _differences(
    plan: PlanMarks, on: plan_work.Ground, theirs: PlanMarks, ground: plan_work.Ground
) -> list[str]:
    """Return how this ear's plan differs from the other's mirror image, where both have it."""
    here, other = on.scene.plan_of(plan), ground.scene.plan_of(theirs)
    if here is None or other is None or set(here.labels) != set(other.labels):
        return []
    curve, seen = on.scene.rim.curve, ground.scene.rim.curve
    found = differences(other, seen, curve, here)
    return [moved_sentence(onto(other, seen, curve)), *map(difference_sentence, found)]


def _mirror(side: Side) -> None:
    """Put this ear's plan onto the other one, in the place of what was planned there."""
    document, client = state.document(), state.client_id()
    plan, on, there = plan_draft.plan_of(document), plan_bench.on_ground(document), _there(side)
    if client is None or plan is None or on is None or there is None:
        return
    here, scene = on.scene.plan_of(plan), there[0].scene
    if here is None:
        return
    moved = onto(here, on.scene.rim.curve, scene.rim.curve).plan
    if not _fits(moved, scene.rim.curve.length_mm):
        state.set_value("mirrored", SHORT)
        return
    new = {
        "placements": scene.marks_of(moved),
        "wanted": plan.wanted,
        "spacing": "own",
        "upright": plan.upright,
        "jewellery": plan.jewellery,
        "approval": None,
    }
    changed = there[1].model_copy(update=new)
    change_draft(
        client_file(),
        client,
        side,
        lambda draft: plan_draft.with_plan(draft, changed),
        state.hand(),
    )
    state.set_value("mirrored", f"The plan stands on the {side} ear now, not approved there.")


def _fits(plan: Plan, length_mm: float) -> bool:
    return bool((plan.arc_mm >= 0.0).all() and (plan.arc_mm <= length_mm).all())
