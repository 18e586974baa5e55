"""Photos: taken or chosen here, and what the card in each of them says."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import check_bars, intake, layout, phone_parts, photo_parts, state, work
from rimspan.screens.guard import opened
from rimspan.screens.lens_use import lens_by_photo


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    layout.title("Photos")
    layout.said()
    bring, views = st.columns([2, 3])
    with bring:
        photo_parts.which_ear()
        st.file_uploader(
            "Take photos, or choose several: HEIC, JPEG or PNG, as the phone saves them",
            type=["jpg", "jpeg", "png", "heic", "heif", "hif"],
            accept_multiple_files=True,
            key=f"photos {state.value('uploads', 0)}",
            on_change=_uploaded,
        )
        phone_parts.from_phone()
        if said := check_bars.as_before(document):
            st.caption(said)
        if intake.waiting():
            _take_in()
    readings = work.readings(document)
    with views:
        photo_parts.five_views(readings, document["side"])
    if not readings:
        photo_parts.how()
        return
    photo_parts.guide(document)
    lenses = lens_by_photo(document, work.photo)
    for reading in readings:
        photo_parts.one(document, reading, lenses.get(reading.file, ""))
    layout.onward("marks", "Go on to the marks")


def _uploaded() -> None:
    count = state.value("uploads", 0)
    intake.wait(state.value(f"photos {count}") or [])
    state.set_value("uploads", count + 1)  # an empty uploader: what came in is listed below


def _take_in() -> None:
    """Take in what waits, saying which photo it is at; then draw the page anew."""
    bar = st.progress(0.0)
    st.button("Stop; keep those that are in", on_click=intake.stop)
    intake.take_in_waiting(bar.progress)
    st.rerun()
