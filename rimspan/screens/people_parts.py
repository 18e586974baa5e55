"""The parts of the people page: one person, a new one, what the studio sets."""

from __future__ import annotations

from functools import partial

import streamlit as st

from assess.talk.consent import AgeRules
from rimspan import studio
from rimspan.clientfile import Person, Role
from rimspan.screens import chair, clock_parts, state
from rimspan.screens.acting import act
from rimspan.screens.navigation import go, page
from rimspan.screens.people_words import AGES, IDLE, LEFT, RETENTION, due_words, role_words
from rimspan.screens.store import client_file
from rimspan.sign_ins import idle_minutes
from rimspan.typed import in_markdown


def one(person: Person) -> None:
    """Draw somebody: name, role, and what a manager may change."""
    with st.expander(f"{in_markdown(person.name)}: {person.role.value if person.active else LEFT}"):
        if not person.active:
            st.button("Works here again", key=f"back {person.id}", on_click=_back, args=(person,))
            return
        key = f"role {person.id}"
        roles = list(Role)
        st.selectbox("Role", roles, roles.index(person.role), format_func=role_words, key=key)
        st.text_input(
            "E-mail at the studio's identity provider (optional)",
            value=person.account,
            key=f"account {person.id}",
            max_chars=200,
        )
        st.text_input(
            "A new password, if they forgot theirs",
            type="password",
            key=f"password {person.id}",
            max_chars=200,
        )
        with st.container(horizontal=True):
            st.button("Keep", key=f"keep {person.id}", on_click=_kept, args=(person,))
            st.button("Works here no more", key=f"end {person.id}", on_click=_ended, args=(person,))


def _kept(person: Person) -> None:
    role = state.value(f"role {person.id}", person.role)
    account = str(state.value(f"account {person.id}", person.account))
    password = str(state.value(f"password {person.id}", "")) or None
    act(
        lambda: studio.change_person(
            client_file(), chair.person(), person, role=role, account=account, password=password
        ),
        f"Kept: {person.name}.",
        f"password {person.id}",
    )


def _ended(person: Person) -> None:
    act(
        lambda: studio.change_person(client_file(), chair.person(), person, active=False),
        f"{person.name} can't sign in any more; what they did stays under their name.",
    )


def _back(person: Person) -> None:
    act(
        lambda: studio.change_person(client_file(), chair.person(), person, active=True),
        f"{person.name} can sign in again.",
    )


def new_person() -> None:
    """Draw the form that adds somebody."""
    with st.form("new person", border=True):
        st.markdown("**Somebody new**")
        name, role = st.columns(2)
        name.text_input("Name", key="person name", max_chars=80)
        role.selectbox("Role", list(Role), format_func=role_words, key="person role")
        st.text_input(
            "A first password, 8 signs or more; they change it themselves",
            type="password",
            key="person password",
            max_chars=200,
        )
        st.form_submit_button("Add", on_click=_added)


def _added() -> None:
    name, password = (str(state.value(f"person {key}", "")) for key in ("name", "password"))
    role = state.value("person role", Role.APPRENTICE)
    act(
        lambda: studio.add_person(client_file(), chair.person(), name, role, password),
        f"{name.strip()} can sign in now.",
        "person name",
        "person password",
    )


def settings() -> None:
    """Draw how long clients are kept, who is due, and when a chair locks."""
    file = client_file()
    days = file.retention_days()
    kept, lock = st.columns(2)
    with kept, st.container(border=True):
        st.number_input(
            "Days a client is kept after the last entry; 0: until somebody erases them",
            min_value=0,
            max_value=36_500,
            value=days or 0,
            key="retention days",
        )
        st.button("Set the days", on_click=_retention)
        st.write(RETENTION)
        if days is not None:
            due = file.due()
            st.write(due_words(len(due)))
            for client in due:
                if st.button(in_markdown(client.name) or "a walk-in", key=f"due {client.id}"):
                    state.open_client(client.id)
                    go("file")
    with lock, st.container(border=True):
        st.number_input(
            "Minutes until a screen locks",
            min_value=studio.LEAST_IDLE_MIN,
            max_value=studio.MOST_IDLE_MIN,
            value=max(round(idle_minutes(file)), studio.LEAST_IDLE_MIN),
            key="idle minutes",
        )
        st.button("Set the minutes", on_click=_idle)
        st.write(IDLE)

    ages, clock = st.columns(2)
    with ages, st.container(border=True):
        _ages()
    with clock, st.container(border=True):
        clock_parts.clock()
    st.page_link(page("wording"), label="The words that clients read")


def _ages() -> None:
    rules = studio.age_rules(client_file())
    least, adult = st.columns(2)
    least.number_input("Least age, whoever agrees", 1, 120, rules.least_years, key="least")
    words = "Age from which nobody needs a guardian"
    adult.number_input(words, 1, 120, rules.adult_from_years, key="adult")
    st.button("Set the ages", on_click=_aged)
    st.write(AGES)


def _aged() -> None:
    rules = AgeRules(int(state.value("least", 16)), int(state.value("adult", 18)))
    act(
        partial(studio.set_age_rules, client_file(), chair.person(), rules),
        f"Nobody under {rules.least_years} is pierced here; under {rules.adult_from_years} a "
        "guardian is needed.",
    )


def _retention() -> None:
    days = int(state.value("retention days", 0)) or None
    words = "until somebody erases them" if days is None else f"for {days} days"
    act(
        partial(studio.set_retention, client_file(), chair.person(), days),
        f"Clients are kept {words}.",
    )


def _idle() -> None:
    minutes = int(state.value("idle minutes", 10))
    act(
        partial(studio.set_idle_minutes, client_file(), chair.person(), minutes),
        f"A screen locks after {minutes} minutes.",
    )
