"""What the client takes home, offered once a piercer has confirmed: the sheet, the visits."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import streamlit as st

from assess.talk.record import talk_from
from rimspan.client_papers import Chosen
from rimspan.clientfile import Revision
from rimspan.screens import state, talk_days, work
from rimspan.screens.talk_draft import record, talk_of
from rimspan.screens.talk_words import DECISIONS, LANGUAGES, PAPERS


def papers(revision: Revision, document: Mapping[str, Any]) -> None:
    """Draw the choices for the client's sheet, its download and that of the visits."""
    st.subheader("For the client to take home", anchor=False)
    talk = talk_of(document)
    code = record(document).get("language", "en")
    spoken, paper = st.columns(2)
    with spoken:
        code = _one("Language of the sheet", LANGUAGES, f"sheet language {revision.id}", code)
    with paper:
        size = _one("Paper", PAPERS, f"sheet paper {revision.id}", "a4")
    decided = talk_from(revision.saved.talk).decided
    if decided is None:
        decided = st.segmented_control(
            "What was decided",
            list(DECISIONS),
            format_func=_decision,
            key=f"sheet decided {revision.id}",
        )
    _own_words(revision.id)
    if decided is None:
        st.write("Say what was decided, and the sheet can be made.")
        return
    chosen = Chosen(
        decided,
        code,
        "us-letter" if size == "us-letter" else "a4",
        note=str(state.value(f"sheet note {revision.id}", "")),
        ends=str(state.value(f"sheet ends {revision.id}", "")),
        material=str(state.value(f"sheet material {revision.id}", "")),
        day=talk.day,
        trips=talk.trips,
    )
    _downloads(revision, chosen)


def _downloads(revision: Revision, chosen: Chosen) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        st.download_button(
            "Download the client's sheet (PDF)",
            data=partial(work.client_sheet, revision, chosen),
            file_name=f"sheet-{revision.number}-{chosen.code}.pdf",
            mime="application/pdf",
            on_click="ignore",
            key=f"sheet {revision.id}",
        )
        if chosen.decided == "goes_ahead":
            day = chosen.day or revision.created_at.date()
            talk_days.calendar(revision.side, day, chosen.code)
    st.caption("The sheet has lines to sign on: client, guardian where there is one, piercer.")


def _own_words(of: str) -> None:
    """Draw what only the piercer can say."""
    ends, material = st.columns(2)
    ends.text_input("Ends (optional)", key=f"sheet ends {of}", max_chars=80)
    material.text_input("Material (optional)", key=f"sheet material {of}", max_chars=80)
    st.text_input("Your reason, in your words (optional)", key=f"sheet note {of}", max_chars=300)


def _decision(name: str) -> str:
    return DECISIONS[name]  # type: ignore[index]


def _one(label: str, named: Mapping[str, str], key: str, first: str) -> str:
    """Return which of some was chosen; one always is."""
    state.set_value(key, state.value(key) or first)
    return st.segmented_control(label, list(named), format_func=named.__getitem__, key=key) or first
