"""Card: print it, check it, hold it."""

from __future__ import annotations

from functools import partial
from typing import Literal

import streamlit as st

from calibration.card import FRAME, POCKET, Card
from calibration.draw_card import card_pdf
from rimspan.screens import layout, svg
from rimspan.screens.check_bars import check_bars
from rimspan.screens.navigation import page

SHEETS: tuple[tuple[str, Card, Literal["a4", "letter"], str], ...] = (
    ("Frame card, A4", FRAME, "a4", "rimspan-frame-a4.pdf"),
    ("Frame card, Letter", FRAME, "letter", "rimspan-frame-letter.pdf"),
    ("Pocket card, on A4", POCKET, "a4", "rimspan-pocket-a4.pdf"),
)


def show() -> None:
    """Draw the page."""
    layout.title("The scale card")
    layout.said()
    for column, (label, card, sheet, name) in zip(st.columns(3), SHEETS, strict=True):
        column.download_button(
            label,
            data=partial(card_pdf, card, sheet),
            file_name=name,
            mime="application/pdf",
            width="stretch",
            on_click="ignore",
        )
    words, drawing = st.columns(2)
    with words:
        st.subheader("Print it", anchor=False)
        st.write(
            "At 100 %, never “fit to page”, on stiff matt stock you can wipe, or on paper fresh "
            "for each client and thrown away. Cut out the window; leave the card flat."
        )
        st.subheader("Check it, once a batch", anchor=False)
        st.write(
            "Read both check bars with calipers that never touch skin: the frame card's are "
            "100 mm across and 100 mm down, the pocket card's 50 mm and 40 mm. Write down what "
            "you read below. Not read, the scale counts as uncertain by 0.6 %."
        )
    with drawing:
        st.subheader("Hold it", anchor=False)
        layout.html(svg.where_to_hold())
        st.write(
            "The ear looks through the frame card's window, the open side down, the arrow up "
            "along the upright head. Level with the rim, touching no broken skin. On a headband "
            "or a stand, not in the client's hand. The phone 250 to 300 mm away, back camera."
        )
    check_bars()
    st.page_link(page("lens"), label="Your phone's lens, and your own accuracy on a table")
