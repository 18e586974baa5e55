"""The form of 'not here': what was found, kindly, and which other places were talked about."""

from __future__ import annotations

from functools import partial

import streamlit as st

from assess.insertion import NotHere, RecordError
from assess.wording import capital
from rimspan.clientfile import Record
from rimspan.not_here import record_not_here
from rimspan.screens import chair, layout, state
from rimspan.screens.acting import act, spent, token
from rimspan.screens.insertion_words import FINDINGS, NOT_HERE, kept_words, not_here_lines
from rimspan.screens.store import client_file
from rimspan.studio_clock import today
from rimspan.typed import in_html, in_markdown


def kept(record: Record) -> None:
    """Draw what was recorded."""
    lines = "<br>".join(in_html(line) for line in not_here_lines(record))
    layout.html(f'<div class="rim-flag note">{lines}</div>')


def form(client: str, side: str, revision: int | None) -> None:
    """Draw the fields, and the button that keeps them.

    Parameters
    ----------
    revision : the number of the assessment that it rests on, if one was saved
    """
    st.write(NOT_HERE)
    st.pills("What was found", FINDINGS, selection_mode="multi", key="found")
    st.text_input(
        "Other places that you talked about, with commas between", key="elsewhere", max_chars=200
    )
    st.text_input("A note for the file (optional)", key="not here note", max_chars=300)
    once = token("not here")
    st.button("Keep: not here", on_click=_keep, args=(client, side, revision, once))


def _keep(client: str, side: str, revision: int | None, once: str) -> None:
    person, file = chair.person(), client_file()
    if person is None:
        return
    places = [part.strip() for part in str(state.value("elsewhere", "")).split(",")]
    try:
        kept = NotHere(
            today(file),
            person.name,
            tuple(state.value("found") or ()),
            tuple(place for place in places if place),
            str(state.value("not here note", "")).strip(),
            None if revision is None else str(revision),
        )
    except RecordError as error:
        state.say(in_markdown(capital(f"{error}; nothing was kept.")))
        return
    keep = partial(record_not_here, file, person, client, side, kept, once)
    if act(keep, kept_words(kept), "elsewhere", "not here note"):
        state.set_value("found", [])
        spent("not here")
