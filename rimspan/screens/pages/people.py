"""People: one's own password; for a manager, who works here and what the studio sets."""

from __future__ import annotations

import streamlit as st

from rimspan import studio
from rimspan.screens import chair, layout, people_parts, state
from rimspan.screens.acting import act
from rimspan.screens.people_words import ROLES
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown


def show() -> None:
    """Draw the page."""
    person = chair.person()
    if person is None:
        return
    layout.title("People")
    layout.said()
    st.write(f"Signed in: {in_markdown(person.name)}, {ROLES[person.role]}.")
    with st.expander("Change your own password"):
        _own_password()
    if not person.role.may_manage:
        st.write("Who works here, a manager says.")
        return
    st.subheader("Who works here", anchor=False)
    for each in client_file().people.all():
        people_parts.one(each)
    people_parts.new_person()
    st.subheader("What the studio sets", anchor=False)
    people_parts.settings()


def _own_password() -> None:
    for key, label in (("old", "Password so far"), ("new", "New password"), ("again", "Once more")):
        st.text_input(label, type="password", key=f"own {key}", max_chars=200)
    st.button("Change the password", on_click=_changed)


def _changed() -> None:
    old, new, again = (str(state.value(f"own {key}", "")) for key in ("old", "new", "again"))
    if new != again:
        state.say("The two new passwords differ; nothing was changed.")
        return
    fields = ("own old", "own new", "own again")
    act(
        lambda: studio.change_own_password(client_file(), chair.person(), old, new),
        "Your password is changed. Sign in with the new one, here and wherever else you were.",
        *fields,
    )
