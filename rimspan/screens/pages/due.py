"""Due: who is expected for a look, overdue, silent, and later."""

from __future__ import annotations

import streamlit as st

from assess.day_words import in_words
from rimspan.following import due
from rimspan.screens import due_parts, layout
from rimspan.screens.store import client_file
from rimspan.studio_clock import today


def show() -> None:
    """Draw the page."""
    layout.title("Due")
    layout.said()
    file = client_file()
    found = due(file)
    st.write(
        f"As of {in_words(today(file))}. A day counts here, not an hour. Everybody of whom is "
        "noted what was put in, or who had a visit, stands here until it is noted what became of "
        "it."
    )
    if not any(found.values()):
        st.write("Nobody is expected.")
        layout.onward("clients", "Back to Start")
        return
    for how in due_parts.LOOKED_AT:
        due_parts.listed(how, found[how])
    due_parts.listed("later", found["later"])
