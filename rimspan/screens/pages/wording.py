"""Wording: what clients read, in the studio's own words, beside the built-in text."""

from __future__ import annotations

import streamlit as st

from assess.talk.catalogue import for_clients
from rimspan.screens import chair, layout, state, wording_parts
from rimspan.screens.navigation import page
from rimspan.screens.store import client_file
from rimspan.screens.talk_words import LANGUAGES
from rimspan.screens.wording_words import ABOUT, ALL_OWN, ONLY_MANAGERS
from rimspan.studio_words import own_words

CODE, GROUP = "wording language", "wording group"


def show() -> None:
    """Draw the page."""
    person = chair.person()
    if person is None:
        return
    layout.title("Wording")
    layout.said()
    layout.html(f'<p class="rim-quiet">{ABOUT}</p>')
    spoken, group = st.columns(2)
    with spoken:
        state.set_value(CODE, state.value(CODE) or "en")
        st.segmented_control(
            "Language", list(LANGUAGES), format_func=LANGUAGES.__getitem__, key=CODE
        )
    code = str(state.value(CODE))
    own = own_words(client_file(), code)
    groups = {ALL_OWN: tuple(own)} | for_clients()
    chosen = group.selectbox("Which texts", [*for_clients(), ALL_OWN], key=GROUP)
    if not person.role.may_manage:
        st.write(ONLY_MANAGERS)
    if not groups[chosen]:
        st.write("No text of this language has words of the studio's.")
    wording_parts.texts(groups[chosen], code, own, may=person.role.may_manage)
    st.page_link(page("people"), label="What else the studio sets")
