"""One photo beside what its card says, and how photos are taken."""

from __future__ import annotations

from functools import partial
from html import escape

import streamlit as st

from assess.reading import PhotoReading
from rimspan.screens import layout, state, svg, work
from rimspan.screens.document import Document, hashes, without_photo
from rimspan.screens.photo_words import card_words, flag_html, seen_from


def how() -> None:
    """Draw how the photos are taken."""
    words, drawing = st.columns(2)
    words.write(
        "One photo square-on, 250 to 300 mm away, the card flat round the ear. The client sits "
        "still, the phone moves, nothing presses the ear. Pen dots at entry and exit help."
    )
    words.write("Views from above and below are kept for later; now each is measured alone.")
    with drawing:
        layout.html(svg.where_to_hold())


def one(document: Document, reading: PhotoReading) -> None:
    """Draw a photo beside what its card says."""
    with st.container(border=True):
        picture, drawings, words = st.columns([3, 2, 4])
        crop = work.crop(hashes(document)[reading.file], reading.target_px)
        if crop is not None:
            caption = f"{reading.file}, the ear at full sharpness"
            picture.image(crop, caption=caption, alt=f"The ear in {reading.file}")
        with drawings:
            layout.html(svg.phone(reading.tilt_deg, seen_from(reading)))
            layout.html(svg.distance(reading.distance_mm))
        with words:
            if reading.refusal:
                st.markdown("**This photo can't be measured yet.**")
                layout.html(f'<div class="rim-flag">{escape(reading.refusal)}</div>')
            else:
                st.markdown(f"**{card_words(reading)}**")
                layout.html("".join(flag_html(flag) for flag in reading.flags))
            st.button(
                "Take this photo out",
                key=f"remove {reading.file}",
                on_click=partial(_removed, reading.file),
            )


def _removed(file: str) -> None:
    state.change(lambda document: without_photo(document, file))
