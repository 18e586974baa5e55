"""Lens: a phone's profile made once, and one's own accuracy tried on a table."""

from __future__ import annotations

import streamlit as st

from rimspan.lens_profiles import kept_profiles
from rimspan.screens import layout, lens_parts, state
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown

TYPES = ["jpg", "jpeg", "png", "heic", "heif"]


def show() -> None:
    """Draw the page."""
    layout.title("Lens and accuracy")
    layout.said()
    st.subheader("Your phones", anchor=False)
    profiles = kept_profiles(client_file())
    if not profiles:
        st.write("No lens profile yet. Photos are measured without one, a little less surely.")
    for i, profile in enumerate(profiles):
        words, act = st.columns([4, 1], vertical_alignment="center")
        words.write(in_markdown(lens_parts.kept_words(profile)))
        act.button(
            "Use it no more",
            key=f"forget lens {i}",
            on_click=lens_parts.forget,
            args=(profile["taken_with"],),
        )
    st.subheader("Make a profile", anchor=False)
    st.write(lens_parts.HOW)
    st.file_uploader(
        "Tilted photos of the card", TYPES, accept_multiple_files=True, key=lens_parts.PHOTOS
    )
    st.button("Make the profile", on_click=lens_parts.make, type="primary")
    st.subheader("Test your own accuracy on a table", anchor=False)
    st.write(lens_parts.HOW_TO_CHECK)
    st.file_uploader("A photo of the card", TYPES, key=lens_parts.CHECK)
    st.button("Check it", on_click=lens_parts.check)
    for line in state.value(lens_parts.CHECKED) or []:
        st.write(in_markdown(line))
