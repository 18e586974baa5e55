"""Marks: tap the rim and the placement in a photo; the millimetres stand below it."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import bench, findings, layout, post_stock
from rimspan.screens.document import labels, of_ear
from rimspan.screens.guard import need, opened
from rimspan.typed import in_markdown


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    layout.said()
    if of_ear(document):
        bench.bench(of_ear(document))
        bench.anew()
    else:
        layout.title("Marks")
        need(document, "There is no photo to mark in yet.", "photos")
    with st.container(key="hands"):
        st.html(f'<div id="{bench.HANDS}"></div>')
        for label in labels(document):
            with st.expander(f"Hands and calipers, placement {in_markdown(label)}", expanded=True):
                findings.hands(document, label)
    with st.expander("How far the rim stands before the card"):
        findings.rim_plane(document)
    with st.expander("Posts in stock"):
        post_stock.posts(document)
    layout.judgement()
    layout.onward("sign", "Go on to answer and sign")
