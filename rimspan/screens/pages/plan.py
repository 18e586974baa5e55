"""Plan: one to five posts on the rim at true size, for the piercer to move and the client to see.

Everything that follows a finger is one fragment, so that the strip isn't drawn for each step.
"""

from __future__ import annotations

import streamlit as st

from rimspan.screens import (
    later_parts,
    layout,
    plan_bench,
    plan_draft,
    plan_other,
    plan_parts,
    plan_worn,
    state,
)
from rimspan.screens.guard import need, opened

LACKS = (
    "A plan stands on the rim's two lines: mark the outer and the inner one in a photo that was "
    "taken square-on, with the card in it."
)


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    with st.spinner("Looking at the rim ..."):
        ground = plan_bench.on_ground(document)
    if ground is None:
        layout.title("Plan")
        need(document, LACKS, "marks" if document["photos"] else "photos")
        layout.judgement()
        return
    _bench()
    layout.judgement()
    layout.onward("sign", "Go on to sign")


@st.fragment
def _bench() -> None:
    state.check_open()
    if state.value("plan told"):
        state.set_value("plan told", False)
        st.rerun(scope="app")  # the strip says so too
    document = state.document()
    ground = plan_bench.on_ground(document)
    if ground is None:
        return
    file = ground.scene.photo.file
    out = plan_bench.photo(document, ground)
    plan_bench.ask(document, ground)
    plan_bench.says(out, ground)
    plan_parts.approval(out, file)
    plan = plan_draft.plan_of(document) or plan_draft.new_plan(file)
    if out is not None:
        plan_parts.each_post(out)
    plan_parts.earlier(plan, file)
    plan_parts.jewellery(plan, out, file)
    for planned in () if out is None else out.placements:
        later_parts.of_planned(planned)
    plan_worn.worn(document, plan, out)
    plan_other.other_ear(plan, ground)
