"""Which card is in the photos, and its check bars as read on the print."""

from __future__ import annotations

import streamlit as st

from calibration.card import CARDS, card_by_id
from rimspan.screens import state
from rimspan.screens.document import AS_ON, Document, changed

WAYS = ("across", "down")
NAMES = {"rimspan-frame-1": "frame card", "rimspan-pocket-1": "pocket card"}


def check_bars() -> None:
    """Draw the inputs for the open draft's card, or say where they will stand."""
    st.subheader("The card in this consultation", anchor=False)
    if state.client_id() is None or state.side() is None:
        st.write("Open a client and an ear; the readings are kept with the consultation.")
        return
    held = state.document().get("card", {})
    ids = list(CARDS)
    chosen = st.segmented_control(
        "Which card is in the photos?",
        ids,
        default=held.get("id", ids[0]),
        format_func=lambda card_id: NAMES.get(card_id, card_id),
        key="card id",
        on_change=_read,
    )
    if said := as_before(state.document()):
        st.write(said)
        st.button("Another print, not read yet", on_click=_new_print)
    card_id = chosen or ids[0]
    read = held.get("check_bar_mm") if held.get("id") == card_id else None
    for i, column in enumerate(st.columns(2)):
        nominal = card_by_id(card_id).check_bar_mm[i]
        column.number_input(
            f"Bar {WAYS[i]} (mm), nominal {nominal:g}",
            min_value=nominal * 0.9,
            max_value=nominal * 1.1,
            value=read[i] if read else None,
            step=0.01,
            format="%.2f",
            placeholder="not read",
            key=f"bar {WAYS[i]} {card_id}",
            on_change=_read,
        )


def as_before(document: Document) -> str:
    """Return in words that print and check bars were taken over, or ``""``."""
    on = document.get(f"{AS_ON}card")
    if not on:
        return ""
    bars = document["card"].get("check_bar_mm")
    read = f"check bars {bars[0]:.2f} and {bars[1]:.2f} mm" if bars else "check bars not read"
    return f"Card and print as in the assessment of {on}: {read}. Another print: read its own."


def _new_print() -> None:
    state.change(lambda document: changed(document, card={"id": document["card"]["id"]}))
    for card in CARDS:
        for way in WAYS:
            state.set_value(f"bar {way} {card}", None)


def _read() -> None:
    card_id = state.value("card id") or next(iter(CARDS))
    bars = [state.value(f"bar {way} {card_id}") for way in WAYS]
    read = {} if None in bars else {"check_bar_mm": bars}
    state.change(lambda document: changed(document, card={"id": card_id} | read))
