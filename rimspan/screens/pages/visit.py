"""Visit: a look after the piercing: first things first, what changed, what is done, when next."""

from __future__ import annotations

import streamlit as st

from rimspan.screens import (
    layout,
    recheck_parts,
    state,
    visit_draft,
    visit_parts,
    visit_signing,
)
from rimspan.screens.file_words import client_name
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown


def show() -> None:
    """Draw the page."""
    document, client = state.open_document(), state.client_id()
    held = {} if document is None else visit_draft.held_in(document)
    piercing = visit_draft.piercing_of(held)
    if client is None or piercing is None:
        layout.title("No visit is open")
        layout.said()
        if client is None:
            layout.onward("clients", "Choose or create a client")
        else:
            st.write("A visit begins at a saved assessment in the timeline.")
            layout.onward("timeline", "Go to the timeline")
        return
    layout.title(f"Visit of {in_markdown(client_name(client_file().client(client).name))}")
    layout.said()
    visit_parts.known(held, piercing)
    if piercing.out:
        st.write("It was removed at an earlier visit; nothing more is kept of it.")
        layout.onward("timeline", "Go to the timeline")
        return
    with st.container(key="visit"):
        visit_parts.first_things(held)
        recheck_parts.recheck(held, piercing)
        visit_parts.what_is_done(held, piercing)
        visit_parts.troubles(held)
        visit_parts.next_look(held, piercing)
        visit_parts.note(held)
        visit_signing.form(held, piercing)
    layout.judgement()
