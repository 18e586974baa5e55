"""Stock: which posts lie in the drawer, by lot and batch; taken in, counted anew, every version."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import chair, layout, stock_parts
from rimspan.screens.stock_words import DOWN, NOTHING, OFFERED, VERSIONS, WHO, version_row
from rimspan.screens.store import client_file
from rimspan.stock_keeping import STOCK, stock_of
from rimspan.studio_clock import today

SHOWN = 20


def show() -> None:
    """Draw the page."""
    person, file = chair.person(), client_file()
    if person is None:
        return
    layout.title("Stock")
    layout.said()
    known = stock_of(file)
    if known.number:
        stock_parts.table(known.stock, today(file))
        st.write(f"{OFFERED} {DOWN}")
    else:
        st.write(NOTHING)
    if person.role.may_confirm:
        stock_parts.receive()
        if known.stock.items:
            stock_parts.count_anew(known.stock)
    else:
        st.write(WHO)
    if known.number:
        with st.expander(f"Versions so far: {known.number}"):
            st.write(VERSIONS)
            st.table([version_row(each) for each in file.records(STOCK)[:SHOWN]])
