"""Outcomes: what became of the studio's piercings, counted, beside the limits in force."""

from __future__ import annotations

import streamlit as st

from assess.outcome_counts import by_limits, counts
from assess.visit_words import COUNTS_CAUTION, limits_table
from rimspan.following import followed
from rimspan.screens import layout, limit_parts
from rimspan.screens.answer_parts import table
from rimspan.screens.store import client_file
from rimspan.studio_limits import criteria_of
from rimspan.typed import in_markdown


def show() -> None:
    """Draw the page."""
    layout.title("Outcomes")
    layout.said()
    layout.html(f'<div class="rim-flag">{COUNTS_CAUTION}</div>')
    known = followed(client_file())
    if not known:
        st.write(
            "Nothing is noted yet. In a client's timeline, under an assessment, it is noted what "
            "became of a piercing."
        )
    for limits, those in by_limits(known).items():
        st.subheader(f"Measured under: {in_markdown(limits)}", anchor=False)
        layout.html(table(limits_table(counts(those))))
    st.subheader("Limits in force", anchor=False)
    criteria = criteria_of(client_file())
    limit_parts.in_force(criteria)
    limit_parts.change(criteria)
    layout.judgement()
