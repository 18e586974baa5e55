"""The pages by name, and how one gets from one to another."""

from __future__ import annotations

import importlib
from collections.abc import Callable

import streamlit as st
from streamlit.navigation.page import StreamlitPage

HOME = "clients"

TITLES = {
    "clients": "Start",
    "card": "Card",
    "client": "Client",
    "talk": "Talk",
    "photos": "Photos",
    "marks": "Marks",
    "answer": "Answer",
    "plan": "Plan",
    "sign": "Sign",
    "insertion": "Insertion",
    "timeline": "Timeline",
    "visit": "Visit",
    "due": "Due",
    "outcomes": "Outcomes",
    "file": "File",
    "repeatability": "Repeatability",
    "lens": "Lens",
    "stock": "Stock",
    "people": "People",
    "wording": "Wording",
}
"""Every page: its module in ``rimspan.screens.pages`` and its title."""

STATIONS = ("client", "talk", "photos", "marks", "answer", "plan", "sign")
"""The stations of a consultation, in their usual order."""


def page(name: str) -> StreamlitPage:
    """Return a page by its name."""
    show: Callable[[], None] = importlib.import_module(f"rimspan.screens.pages.{name}").show
    return st.Page(show, title=TITLES[name], url_path=name, default=name == HOME)


def every_page() -> list[StreamlitPage]:
    """Return all pages."""
    return [page(name) for name in TITLES]


def go(name: str) -> None:
    """Leave for another page."""
    st.switch_page(page(name))
