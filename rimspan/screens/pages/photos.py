"""Photos: taken or chosen here, and what the card in each of them says."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import layout, phone_parts, photo_parts, state, work
from rimspan.screens.guard import opened
from rimspan.screens.intake import take_in


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    layout.title("Photos")
    layout.said()
    st.file_uploader(
        "Take photos, or choose several: JPEG or PNG, as the phone saves them",
        type=["jpg", "jpeg", "png"],
        accept_multiple_files=True,
        key=f"photos {state.value('uploads', 0)}",
        on_change=_uploaded,
    )
    phone_parts.from_phone()
    if not document["photos"]:
        photo_parts.how()
        return
    with st.spinner("Reading the card in the photos ..."):
        readings = work.readings(document)
    for reading in readings:
        photo_parts.one(document, reading)
    layout.onward("marks", "Go on to the marks")


def _uploaded() -> None:
    count = state.value("uploads", 0)
    refused = take_in(state.value(f"photos {count}") or [])
    state.set_value("uploads", count + 1)  # an empty uploader: what came in is listed below
    state.say("  \n".join(refused))
