"""Talk: age and consent, questions, days, the order in the chair; one of them at a time."""

from __future__ import annotations

from functools import partial

import streamlit as st

from assess.talk.consent import unmet
from rimspan.screens import layout, state, talk_days, talk_parts
from rimspan.screens.document import Document
from rimspan.screens.guard import opened
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import talk_of
from rimspan.screens.talk_words import AGE, CHAIR, DAYS, PARTS, QUESTIONS
from rimspan.studio import age_rules

PART = "talk part"
DRAW = {
    AGE: talk_parts.age,
    QUESTIONS: talk_parts.questions,
    DAYS: talk_days.days,
    CHAIR: talk_parts.chair,
}


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    layout.title("Talk")
    part = state.value(PART) or _first_open(document)
    state.set_value(PART, part)
    st.segmented_control("Part", PARTS, key=PART, label_visibility="collapsed")
    with st.container(key="talk"):
        DRAW[part](document)
    later = PARTS[PARTS.index(part) + 1 :]
    if later:
        st.button(f"On to: {later[0]}", on_click=partial(state.set_value, PART, later[0]))
    layout.onward("photos", "Go on to the photos")


def _first_open(document: Document) -> str:
    """Return where one goes on: what isn't met, then what isn't asked, then the days."""
    talk = talk_of(document)
    if unmet(talk.facts, age_rules(client_file())):
        return AGE
    return QUESTIONS if talk.together.unasked else DAYS
