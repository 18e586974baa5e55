"""The photo with the plan on it, what it comes to, and the taps that lay it out."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np
import streamlit as st

from assess.grouping import NoLayout, propose
from assess.plan import MOST, Plan, Planned, Spacing
from assess.plan_marks import EarlierMarks, PlanMarks
from assess.plan_result import PlanOut
from assess.plan_scene import Scene
from assess.plan_words import COUNT_WORDS, layout_sentence, number_sentence
from rimspan.plan_lines import DRAWN, broken, in_the_way, planned_line
from rimspan.screens import chair, plan_draft, plan_work, state, work
from rimspan.screens.document import Document, hashes
from rimspan.screens.layout import html
from rimspan.screens.plan_view import drawn
from rimspan.screens.planning import planning
from rimspan.typed import in_html

SPACINGS: Mapping[str, str] = {
    "arc": "Even along the rim",
    "sight": "Even to the eye",
    "free": "Where it carries best",
}
AXES = {False: "Axes follow the rim", True: "All upright"}
HINTS = {
    True: "Drag a post along the rim, or choose one and move it with the buttons. What it comes to "
    "stands below.",
    False: "Say how many posts are wished for, and they are laid out here.",
}


def on_ground(document: Mapping[str, Any]) -> plan_work.Ground | None:
    """Return what a plan of the draft stands on."""
    return plan_work.ground(work.to_measure(document), work.seen(document))


def photo(document: Document, on: plan_work.Ground) -> PlanOut | None:
    """Draw the photo with the plan, and return what is measured of it."""
    plan = plan_draft.plan_of(document) or plan_draft.new_plan(on.scene.photo.file)
    found = plan_work.measured(work.to_measure(document), work.seen(document))
    sha256 = hashes(document)[on.scene.photo.file]
    chair.SIGN_INS.show(chair.written(), sha256)
    key = f"plan {state.client_id()} {state.side()} {sha256}"
    shown = drawn(on.scene, plan, found, sha256, HINTS[bool(plan.placements)])
    heard = state.value(f"heard {key}")
    planning(shown | {"heard": heard}, key=key, on_change=partial(_arrived, key))
    return None if found is None else found.out


def _arrived(key: str) -> None:
    """Put what the component has just sent into the draft."""
    sent = (state.value(key) or {}).get("document")
    _, client, side, _ = key.split(" ")
    if not sent or (client, side) != (state.client_id(), state.side()):
        return
    state.set_value(f"heard {key}", {"hand": sent["hand"], "n": sent["n"]})
    on = on_ground(state.document())
    if on is not None:
        plan_draft.keep(partial(_with_sent, on.scene, sent), on.scene.photo.file)


def _with_sent(at: Scene, sent: Mapping[str, Any], plan: PlanMarks) -> PlanMarks:
    """Return the plan as a hand has it now; sizes that were typed stay."""
    known = {each.name: each for each in plan.earlier}
    earlier = []
    for each in sent["earlier"]:
        places = [(float(x), float(y)) for x, y in each["places"]]
        new = EarlierMarks(name=each["name"], start=places[0])
        if len(places) > 1:
            new = new.model_copy(update={"end": places[1], "bar_mm": BAR_MM})
        earlier.append(known.get(each["name"], new))
    changes: dict[str, Any] = {"earlier": tuple(earlier)}
    stands = at.plan_of(plan)
    now = {} if stands is None else {each.label: each for each in stands.placements}
    posts = [p for p in sent["posts"] if p["label"] in now]
    moved = {
        p["label"]: now[p["label"]].moved(float(p["arc"]), float(p["lean"]))
        for p in posts
        if abs(now[p["label"]].arc_mm - p["arc"]) > MOVED_MM
        or abs(now[p["label"]].lean_deg - p["lean"]) > MOVED_DEG
    }
    if moved:
        placed = {each.label: each for each in plan.placements}
        for each in at.marks_of(Plan(tuple(moved.values()))):
            placed[each.label] = each
        changes |= {"placements": tuple(placed.values()), "spacing": "own"}
    return plan.model_copy(update=changes)


BAR_MM = 1.6
"""Of a bar that is marked, until its thickness is typed (common practice, no source)."""

MOVED_MM, MOVED_DEG = 0.02, 0.05
"""Less than this is no move."""


def ask(document: Document, on: plan_work.Ground) -> None:
    """Draw the taps that lay posts out: how many, how they are spaced, how their axes stand."""
    plan = plan_draft.plan_of(document)
    state.set_value("plan wanted", plan.wanted if plan else None)
    spacing = plan.spacing if plan and plan.spacing != "own" else None
    state.set_value("plan spacing", spacing)
    state.set_value("plan upright", plan.upright if plan else False)
    with st.container(horizontal=True, key="plan-ask", vertical_alignment="bottom"):
        st.segmented_control(
            "Posts wished for", list(range(1, MOST + 1)), key="plan wanted", on_change=_ask
        )
        st.segmented_control(
            "Spacing",
            list(SPACINGS),
            format_func=SPACINGS.__getitem__,
            key="plan spacing",
            on_change=_ask,
        )
        st.segmented_control(
            "Axes", list(AXES), format_func=AXES.__getitem__, key="plan upright", on_change=_ask
        )
        if _marked(on.scene):
            st.button("Take the marked dots", on_click=_from_dots)
    planned = len(plan.placements) if plan else 0
    fewer = on.carries.count
    if plan is not None and 0 < fewer < plan.wanted and planned != fewer:
        st.button(
            f"Lay out {COUNT_WORDS[fewer]}",
            type="primary",
            on_click=lay_out,
            args=(fewer, spacing or "arc", plan.wanted),
        )


def _ask() -> None:
    """Lay out what was just asked for."""
    wanted = state.value("plan wanted")
    plan = plan_draft.plan_of(state.document())
    count = int(wanted or (plan.wanted if plan else 1))
    spacing: Spacing = state.value("plan spacing") or "arc"
    lay_out(count, spacing, count)


def lay_out(count: int, spacing: Spacing, wanted: int) -> None:
    """Put the best layout of so many posts into the draft; none where there is no place."""
    upright = bool(state.value("plan upright"))
    on = on_ground(state.document())
    if on is None:
        return
    file = on.scene.photo.file
    asked = {"wanted": wanted, "upright": upright, "spacing": spacing}
    plan_draft.keep(lambda plan: plan.model_copy(update=asked), file)
    on = on_ground(state.document())
    if on is None:
        return
    scene, found = on.scene, propose(on.scene.rim, count, spacing)
    state.set_value("plan said", layout_sentence(found))
    placed = () if isinstance(found, NoLayout) else scene.marks_of(found.plan)
    plan_draft.keep(lambda plan: plan.model_copy(update={"placements": placed}), file)


def _marked(at: Scene) -> list[str]:
    """Return the labels of placements with both dots in the photo."""
    return [p.label for p in at.photo.placements if p.entry is not None and p.exit is not None]


def _from_dots() -> None:
    """Plan where the dots are marked."""
    on = on_ground(state.document())
    if on is None:
        return
    scene, curve = on.scene, on.scene.rim.curve
    placed = []
    for each in scene.photo.placements[:MOST]:
        if each.entry is not None and each.exit is not None:
            entry, exit_ = scene.to_mm(np.array([each.entry, each.exit]))
            arc = np.array(curve.arc_of(entry))
            lean = float(curve.lean_of(arc, (exit_ - entry) / np.hypot(*(exit_ - entry))))
            placed.append(Planned(each.label, float(arc), lean))
    marks = scene.marks_of(Plan(tuple(placed)))
    update = {"placements": marks, "wanted": len(marks), "spacing": "own"}
    state.set_value("plan said", "Planned where the dots are marked.")
    plan_draft.keep(lambda plan: plan.model_copy(update=update), scene.photo.file)


def says(out: PlanOut | None, on: plan_work.Ground) -> None:
    """Draw what the plan comes to: the number and why, all together, each post, what is near."""
    lines = [] if out is None else list(out.sentences[:2])
    main = "".join(f'<p class="rim-live">{in_html(line)}</p>' for line in lines)
    said = [str(state.value("plan said", "")), number_sentence(on.carries)]
    near = [] if out is None else [e.sentence for e in broken(out)]
    near += [] if out is None else [e.sentence for e in in_the_way(out)]
    posts = [] if out is None else [planned_line(each) for each in out.placements]
    flags = "".join(f'<p class="rim-flag">{in_html(each)}</p>' for each in near)
    quiet = [*said, *posts, *([DRAWN] if posts else [])]
    rest = "".join(f'<p class="rim-quiet">{in_html(line)}</p>' for line in quiet if line)
    html(f'<div role="status">{main}{flags}{rest}</div>')
