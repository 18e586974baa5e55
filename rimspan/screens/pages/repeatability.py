"""Repeatability: how well each piercer's marks repeat, and how far piercers differ."""

from __future__ import annotations

from html import escape

import streamlit as st

from assess.between_piercers import between_piercers
from assess.reading import U_MARK_MM
from assess.repeatability import Scatter, mark_uncertainty, scatter_by_piercer
from assess.wording import interval_sentence
from rimspan.screens import layout, repeat_words
from rimspan.screens.scatter_rule import scatter_bars, scatter_rule
from rimspan.screens.store import client_file
from rimspan.typed import in_html


def show() -> None:
    """Draw the page."""
    layout.title("How well marks repeat")
    samples = client_file().repeats.samples()
    piercers = scatter_by_piercer(samples)
    if not piercers:
        st.write(repeat_words.BEGIN)
        layout.onward("clients", "Choose or create a client")
        return
    st.write(repeat_words.WHAT_IT_IS)
    longest = max(scatter.quantity.high for scatter in piercers.values())
    for name, scatter in piercers.items():
        with st.container(border=True):
            _piercer(name, scatter, longest)
    st.subheader("On the same photos", anchor=False)
    found = between_piercers(samples)
    if found is None:
        st.write(repeat_words.NOT_SHARED)
        return
    layout.html(scatter_bars(repeat_words.between_rows(found)))
    for line in repeat_words.between_words(found):
        _quiet(line)


def _piercer(name: str, scatter: Scatter, longest_mm: float) -> None:
    said = interval_sentence(scatter.quantity)
    uncertainty = mark_uncertainty(scatter)
    layout.html(f"<h2>{in_html(name)}</h2>")
    layout.html(f'<p class="rim-says">{said}</p>')
    layout.html(scatter_rule(scatter.quantity, U_MARK_MM, longest_mm, f"scatter {said}"))
    st.write(f"{repeat_words.behind_words(scatter)} {repeat_words.used_words(uncertainty)}")
    _quiet(repeat_words.mean_words(uncertainty))


def _quiet(words: str) -> None:
    layout.html(f'<p class="rim-quiet">{escape(words)}</p>')
