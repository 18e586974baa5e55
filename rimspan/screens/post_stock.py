"""The posts that a draft is measured with: of the studio's stock, or chosen by hand."""

from __future__ import annotations

import streamlit as st

from assess.posts import default_stock, inch_name
from rimspan.screens import state
from rimspan.screens.document import AS_ON, FROM_STOCK, Document, changed, with_stock
from rimspan.screens.stock_words import length_words
from rimspan.screens.store import client_file
from rimspan.stock_keeping import offered
from rimspan.studio_clock import today


def posts(document: Document) -> None:
    """Draw which posts are offered: those of the stock, or one gauge and its lengths by hand."""
    number, there = offered(client_file(), today(client_file()))
    now = [post.model_dump(mode="json") for post in there]
    if FROM_STOCK in document and document.get("posts"):
        for post in document["posts"]:
            lengths = ", ".join(length_words(each) for each in post["lengths_mm"])
            st.write(f"{post['gauge_mm']:g} mm: {lengths}")
        st.caption(f"From the stock, version {document[FROM_STOCK]}.")
        if now and now != document["posts"]:
            st.button(f"Take the stock as it is now, version {number}", on_click=_from_stock)
        st.button("Choose others by hand", on_click=_by_hand)
        return
    if now:
        st.button("Take the posts of the stock", on_click=_from_stock)
    _chosen(document)


def _from_stock() -> None:
    number, there = offered(client_file(), today(client_file()))
    held = [post.model_dump(mode="json") for post in there]
    if held:
        state.change(lambda document: with_stock(document, number, held))


def _by_hand() -> None:
    state.change(lambda document: changed(document, posts=None))


def _chosen(document: Document) -> None:
    stock = document.get("posts") or [post.model_dump(mode="json") for post in default_stock()]
    lengths = sorted({*stock[0]["lengths_mm"], *default_stock()[0].lengths_mm})
    if on := document.get(f"{AS_ON}posts"):
        st.caption(f"As in the assessment of {on}.")
    st.number_input(
        "Diameter (mm)",
        min_value=0.5,
        max_value=3.0,
        value=float(stock[0]["gauge_mm"]),
        step=0.1,
        format="%.2f",
        key="gauge_mm",
        on_change=_stocked,
    )
    st.multiselect(
        "Lengths in stock",
        lengths,
        default=list(stock[0]["lengths_mm"]),
        format_func=lambda mm: f"{mm:.2f} mm ({inch_name(mm)})" if inch_name(mm) else f"{mm:g} mm",
        key="lengths_mm",
        on_change=_stocked,
    )


def _stocked() -> None:
    lengths = sorted(state.value("lengths_mm") or [])
    if not lengths:
        state.say("The stock is empty; the usual lengths count until one is chosen.")
    posts_ = [{"gauge_mm": state.value("gauge_mm"), "lengths_mm": lengths}] if lengths else None
    state.change(lambda document: changed(document, posts=posts_))
