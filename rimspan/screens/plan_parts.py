"""The plan's further parts, folded: the client's word, sizes, distances, what was there before."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import streamlit as st

from assess.ends import Shape, Style
from assess.plan_marks import EarlierMarks, EndMarks, PlanMarks, RoomMarks, Thread
from assess.plan_result import PlanOut
from assess.result import Result
from rimspan.plan_lines import plan_lines
from rimspan.screens import plan_draft, state
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.typed import in_html, in_markdown

STYLES: Mapping[Style, str] = {
    "labret": "Labret",
    "barbell": "Straight barbell",
    "ring": "Ring",
    "curved bar": "Curved bar",
}
THREADS: Mapping[Thread, str] = {
    "threadless": "Threadless",
    "inside thread": "Thread inside",
    "outside thread": "Thread outside",
}
SHAPES: Mapping[Shape, str] = {"disc": "Disc", "ball": "Ball", "pointed": "Pointed"}
ANEW = "Wipe the dots off, move the posts here, draw the dots anew, and show it again."


def approval(out: PlanOut | None, photo: str) -> None:
    """Draw what the client says to the drawing, and who kept that."""
    if out is None or not out.placements:
        return
    with st.container(horizontal=True, key="plan-approve", vertical_alignment="center"):
        st.button(
            "The client approves this drawing",
            type="primary",
            on_click=_said,
            args=("approved", photo),
        )
        st.button("The client wants it otherwise", on_click=_said, args=("anew", photo))
    words = [out.sentences[-1]]
    if out.approval is not None and out.approval.answer == "anew":
        words.append(ANEW)
    html("".join(f'<p class="rim-next" role="status">{in_html(each)}</p>' for each in words))


def _said(answer: str, photo: str) -> None:
    at = client_file().clock().isoformat(timespec="minutes")
    word = plan_draft.approval(answer, at, state.piercer())
    plan_draft.keep(lambda plan: plan.model_copy(update={"approval": word}), photo)
    state.set_value("plan told", True)


def each_post(out: PlanOut) -> None:
    """Draw, folded, how each post stands out, sits and fits, and the distances."""
    for found in out.placements:
        with st.expander(f"Post {in_markdown(found.label)}: ends and room"):
            st.markdown("\n".join(f"- {in_markdown(line)}" for line in found.sentences))
            st.caption(
                "Seat along the rim, as this photo shows it. Spare length is leverage: the "
                "channel follows it in time. Common practice, no source."
            )
    if out.distances:
        with st.expander("Distances, the tightest first"):
            st.markdown("\n".join(f"- {in_markdown(each.sentence)}" for each in out.distances))


def short(result: Result) -> None:
    """Draw what a result says of the plan, in a few lines; nothing where there is none."""
    if result.plan_missing is not None:
        html(f'<p class="rim-flag">{in_html(result.plan_missing)}</p>')
    if result.plan is not None:
        st.subheader("Plan", anchor=False)
        said = "".join(f"<li>{in_html(line)}</li>" for line in plan_lines(result.plan))
        html(f'<ul class="rim-short">{said}</ul>')


def earlier(plan: PlanMarks, photo: str) -> None:
    """Draw the sizes of what was pierced before."""
    with st.expander("What was pierced before, and bars through the rim"):
        if not plan.earlier:
            st.write("Nothing is marked. Tap Mark a piercing, or Mark a bar, beside the photo.")
        for i, found in enumerate(plan.earlier):
            _one_earlier(i, found, photo)


def _one_earlier(i: int, found: EarlierMarks, photo: str) -> None:
    with st.container(horizontal=True, vertical_alignment="bottom", key=f"earlier-{i}"):
        st.markdown(f"**{in_markdown(found.name)}**")
        key = f"earlier {found.name}"
        change = partial(_resize, found.name, photo)
        state.set_value(f"{key} end", found.end_mm)
        st.number_input(
            "Width worn there (mm)", 0.0, 30.0, step=0.5, key=f"{key} end", on_change=change
        )
        if found.end is not None:
            state.set_value(f"{key} bar", found.bar_mm)
            st.number_input(
                "Thickness of the bar (mm)", 0.0, 5.0, step=0.1, key=f"{key} bar", on_change=change
            )
        state.set_value(f"{key} planned", found.planned)
        st.checkbox("only planned", key=f"{key} planned", on_change=change)
        st.button("Take out", key=f"{key} out", on_click=_take_out, args=(found.name, photo))


def _resize(name: str, photo: str) -> None:
    def edit(plan: PlanMarks) -> PlanMarks:
        key = f"earlier {name}"
        sizes = {
            "end_mm": float(state.value(f"{key} end", 3.0)),
            "bar_mm": float(state.value(f"{key} bar", 0.0)),
            "planned": bool(state.value(f"{key} planned")),
        }
        changed = (e.model_copy(update=sizes) if e.name == name else e for e in plan.earlier)
        return plan.model_copy(update={"earlier": tuple(changed)})

    plan_draft.keep(edit, photo)


def _take_out(name: str, photo: str) -> None:
    def edit(plan: PlanMarks) -> PlanMarks:
        left = tuple(each for each in plan.earlier if each.name != name)
        return plan.model_copy(update={"earlier": left})

    plan_draft.keep(edit, photo)


def jewellery(plan: PlanMarks, out: PlanOut | None, photo: str) -> None:
    """Draw what is to be put in, and what the studio keeps free."""
    with st.expander("Jewellery, distances and room"):
        held = _fields_of(plan)
        for name, value in held.items():
            state.set_value(f"plan {name}", value)
        change = partial(_take_fields, photo)
        kinds = st.columns(4)
        for place, (label, name, choices) in zip(kinds, _CHOICES, strict=True):
            place.selectbox(
                label,
                list(choices),
                format_func=choices.__getitem__,
                key=f"plan {name}",
                on_change=change,
            )
        for row in _NUMBERS:
            for place, (label, name, least, most) in zip(st.columns(4), row, strict=False):
                place.number_input(
                    label, least, most, step=0.1, key=f"plan {name}", on_change=change
                )
        if out is not None:
            for line in out.jewellery[1:]:
                html(f'<p class="rim-flag">{in_html(line)}</p>')
        st.caption("Distances and room are assumptions: common practice, no source.")


_CHOICES: tuple[tuple[str, str, Mapping[Any, str]], ...] = (
    ("Style", "style", STYLES),
    ("Thread", "thread", THREADS),
    ("Upper end", "top shape", SHAPES),
    ("Lower end", "bottom shape", SHAPES),
)
_NUMBERS = (
    (
        ("Upper end, width (mm)", "top width", 0.5, 20.0),
        ("Upper end, height (mm)", "top height", 0.1, 20.0),
        ("Lower end, width (mm)", "bottom width", 0.5, 20.0),
        ("Lower end, height (mm)", "bottom height", 0.1, 20.0),
    ),
    (
        ("Post, thickness (mm)", "post", 0.5, 3.0),
        ("Between posts, at least (mm)", "spacing mm", 0.0, 40.0),
        ("Between ends, at least (mm)", "gap", 0.0, 20.0),
    ),
    (
        ("Swelling below (mm)", "swelling", 0.0, 10.0),
        ("Needle past the exit (mm)", "needle", 0.0, 20.0),
        ("Receiving tool (mm)", "tool", 0.0, 20.0),
    ),
)


def _fields_of(plan: PlanMarks) -> dict[str, Any]:
    worn, room = plan.jewellery, plan.room
    return {
        "style": worn.style,
        "thread": worn.thread,
        "top shape": worn.top.shape,
        "bottom shape": worn.bottom.shape,
        "top width": worn.top.width_mm,
        "top height": worn.top.height_mm,
        "bottom width": worn.bottom.width_mm,
        "bottom height": worn.bottom.height_mm,
        "post": worn.post_mm,
        "spacing mm": plan.spacing_mm if plan.spacing_mm is not None else plan_draft.spacing_mm(),
        "gap": plan.gap_mm,
        "swelling": room.swelling_mm,
        "needle": room.needle_mm,
        "tool": room.tool_mm,
    }


def _take_fields(photo: str) -> None:
    def edit(plan: PlanMarks) -> PlanMarks:
        old = _fields_of(plan)
        now = {name: state.value(f"plan {name}", value) for name, value in old.items()}
        top, bottom = (
            EndMarks(
                shape=now[f"{end} shape"],
                width_mm=now[f"{end} width"],
                height_mm=now[f"{end} height"],
            )
            for end in ("top", "bottom")
        )
        kind = {"style": now["style"], "thread": now["thread"], "post_mm": now["post"]}
        worn = plan.jewellery.model_copy(update=kind | {"top": top, "bottom": bottom})
        room = RoomMarks(swelling_mm=now["swelling"], needle_mm=now["needle"], tool_mm=now["tool"])
        apart = None if now["spacing mm"] == plan_draft.spacing_mm() else now["spacing mm"]
        return plan.model_copy(
            update={"jewellery": worn, "room": room, "gap_mm": now["gap"], "spacing_mm": apart}
        )

    plan_draft.keep(edit, photo)
