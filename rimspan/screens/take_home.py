"""What the client takes home, offered once a piercer has confirmed: the sheet, the visits."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import streamlit as st

from assess.talk.decided import Decided
from assess.talk.record import talk_from
from rimspan.client_papers import Chosen, chosen_then
from rimspan.clientfile import Revision
from rimspan.screens import state, talk_days, work
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import record, talk_of
from rimspan.screens.talk_words import DECISIONS, LANGUAGES, MOST, PAPERS, SHEET_FIELDS
from rimspan.sheets.compiling import Paper
from rimspan.studio_clock import day_of


def papers(revision: Revision, document: Mapping[str, Any]) -> None:
    """Draw the choices for the client's sheet, its download and that of the visits."""
    st.subheader("For the client to take home", anchor=False)
    talk = talk_of(document)
    code, size = _language_and_paper(revision.id, record(document).get("language", "en"))
    decided = _decided(revision)
    _own_words(revision)
    if decided is None:
        st.write("Say what was decided, and the sheet can be made.")
        return
    chosen = Chosen(
        decided,
        code,
        size,
        note=_typed("note", revision),
        ends=_typed("ends", revision),
        material=_typed("material", revision),
        day=talk.day,
        trips=talk.trips,
        times=talk.times,
    )
    _downloads(revision, chosen)


def again(revision: Revision) -> None:
    """Draw the downloads of a saved assessment's sheet and visits, as they were when saved."""
    st.subheader("For the client to take home, as it was then", anchor=False)
    talked = revision.saved.talk
    code, size = _language_and_paper(revision.id, str(talked.get("language", "en")))
    decided = _decided(revision)
    if decided is None:
        st.write("No decision was saved with it. Say which it was, and the sheet can be made.")
        return
    _downloads(revision, chosen_then(revision, decided, code, size))


def _decided(revision: Revision) -> Decided | None:
    """Return what was decided, asked for where it wasn't saved."""
    saved = talk_from(revision.saved.talk).decided
    if saved is not None:
        return saved
    return st.segmented_control(
        "What was decided",
        list(DECISIONS),
        format_func=_decision,
        key=f"sheet decided {revision.id}",
    )


def _language_and_paper(of: str, first: str) -> tuple[str, Paper]:
    spoken, paper = st.columns(2)
    with spoken:
        code = _one("Language of the sheet", LANGUAGES, f"sheet language {of}", first)
    with paper:
        size = _one("Paper", PAPERS, f"sheet paper {of}", "a4")
    return code, "us-letter" if size == "us-letter" else "a4"


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
            day = chosen.day or day_of(client_file(), revision.created_at)
            talk_days.calendar(revision.side, chosen, day, f"calendar {revision.id}")
    st.caption("The sheet has lines to sign on: client, guardian where there is one, piercer.")


def _own_words(revision: Revision) -> None:
    """Draw what only the piercer can say, as it was written before the signing."""
    saved = talk_from(revision.saved.talk).written
    for name, text in saved.items():
        key = f"sheet {name} {revision.id}"
        state.set_value(key, state.value(key, text))
    for name, label in SHEET_FIELDS.items():
        st.text_input(label, key=f"sheet {name} {revision.id}", max_chars=MOST[name])


def _typed(name: str, revision: Revision) -> str:
    return str(state.value(f"sheet {name} {revision.id}") or "")


def _decision(name: str) -> str:
    return DECISIONS[name]  # type: ignore[index]


def _one(label: str, named: Mapping[str, str], key: str, first: str) -> str:
    """Return which of some was chosen; one always is."""
    state.set_value(key, state.value(key) or first)
    return st.segmented_control(label, list(named), format_func=named.__getitem__, key=key) or first
