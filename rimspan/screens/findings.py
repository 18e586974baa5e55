"""What hands and calipers found, and what is known of rim and stock: inputs for the draft."""

from __future__ import annotations

from functools import partial
from typing import Any

import streamlit as st

from assess.marks import RimPlane
from assess.steps import U_CALIPER_MM
from rimspan.screens import state
from rimspan.screens.document import Document, changed, labels

TISSUE = {"firm": "firm", "soft": "soft", "not_examined": "not examined"}

READINGS = (
    ("channel_mm", "Channel, dot to dot", U_CALIPER_MM),
    ("fold_depth_mm", "Fold depth, not pressed", U_CALIPER_MM),
    ("relief_mm", "Relief, by depth rod", U_CALIPER_MM),
)
"""Each reading with the standard uncertainty offered at first (assumed; mm)."""


def hands(document: Document, label: str) -> None:
    """Draw the hand findings and caliper readings of one placement."""
    held = document["examined"].get(label, {}).get("tissue", "not_examined")
    st.segmented_control(
        "Tissue of the rim, by hand",
        list(TISSUE),
        default=held,
        format_func=lambda name: TISSUE[name],
        key=f"tissue {label}",
        on_change=partial(_felt, label),
    )
    read = document["caliper"].get(label, {})
    for place, (name, words, u) in zip(st.columns(3), READINGS, strict=True):
        changed_ = partial(_read, label, name, u)
        _number(place, f"{words} (mm)", read.get(name), f"{name} {label}", changed_)
        place.number_input(
            "its ± u (mm)",
            min_value=0.01,
            max_value=5.0,
            value=float(read.get(f"u_{name}", u)),
            step=0.05,
            format="%.2f",
            key=f"u_{name} {label}",
            help="Standard uncertainty: two readings in three lie this near.",
            on_change=changed_,
        )


def _number(place: Any, words: str, held: float | None, key: str, changed_: Any) -> None:  # noqa: ANN401
    place.number_input(
        words,
        min_value=0.1,
        max_value=40.0,
        value=held,
        step=0.1,
        format="%.2f",
        placeholder="not read",
        key=key,
        on_change=changed_,
    )


def _felt(label: str) -> None:
    tissue = state.value(f"tissue {label}") or "not_examined"
    state.change(lambda d: changed(d, examined=d["examined"] | {label: {"tissue": tissue}}))


def _read(label: str, name: str, u: float) -> None:
    """Keep one reading, and leave the others to whichever chair read them."""
    value = state.value(f"{name} {label}")
    own = {} if value is None else {name: value, f"u_{name}": state.value(f"u_{name} {label}", u)}

    def with_reading(document: Document) -> Document:
        caliper = dict(document["caliper"])
        known = caliper.pop(label, {})
        read = {key: held for key, held in known.items() if key not in {name, f"u_{name}"}} | own
        return changed(document, caliper=caliper | ({label: read} if read else {}))

    state.change(with_reading)


def fields(document: Document) -> dict[str, Any]:
    """Return what the fields of this module hold by their keys, as the draft has it."""
    plane = RimPlane.model_validate(document.get("rim_plane", {}))
    held: dict[str, Any] = {name: getattr(plane, name) for name in ("offset_mm", "u_offset_mm")}
    for label in labels(document):
        read = document["caliper"].get(label, {})
        tissue = document["examined"].get(label, {}).get("tissue", "not_examined")
        held[f"tissue {label}"] = tissue
        for name, _, u in READINGS:
            held |= {f"{name} {label}": read.get(name)}
            held |= {f"u_{name} {label}": float(read.get(f"u_{name}", u))}
    return held


def rim_plane(document: Document) -> None:
    """Draw how far the rim stands before the card."""
    held = RimPlane.model_validate(document.get("rim_plane", {}))
    offset, spread = st.columns(2, vertical_alignment="bottom")
    offset.number_input(
        "Rim before the card, toward the camera (mm)",
        value=held.offset_mm,
        step=0.5,
        format="%.1f",
        key="offset_mm",
        on_change=partial(_levelled, "offset_mm"),
    )
    spread.number_input(
        "± u (mm)",
        min_value=0.0,
        value=held.u_offset_mm,
        step=0.5,
        format="%.1f",
        key="u_offset_mm",
        help="5 mm when nobody looked; read it with a depth rod or from the side.",
        on_change=partial(_levelled, "u_offset_mm"),
    )


def _levelled(name: str) -> None:
    held = state.value(name)
    state.change(lambda old: changed(old, rim_plane=old.get("rim_plane", {}) | {name: held}))
