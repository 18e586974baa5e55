"""What is shown where nobody is signed in, or the chair is locked: a name list and a password.

The forms are sent to :mod:`rimspan.screens.sign_in_routes`; whole pages go to and fro, as only
an answer to a browser's own request can give it a pass.
"""

from __future__ import annotations

from html import escape
from urllib.parse import urlsplit

import streamlit as st

from rimspan.clientfile import ClientFile
from rimspan.demo.client import PASSWORD
from rimspan.screens import account, chair, layout
from rimspan.screens.sign_in_forms import first_manager_html, sign_in_html, sign_out_html
from rimspan.screens.sign_in_words import FIRST, LOCKED, refusal_words
from rimspan.screens.store import client_file
from rimspan.sign_ins import Seat


def show(seat: Seat | None) -> None:
    """Draw the page; ``seat`` is who sits at the chair, if it is only locked."""
    file = client_file()
    with st.container(key="door"):
        layout.html('<p class="rim-quiet">Rimspan</p>')
        layout.said()
        if file.people.managers():
            _door(file, seat)
        else:
            st.title("The first manager", anchor=False)
            _refused()
            st.write(FIRST)
            st.html(first_manager_html(file.sealed, _here()))
        if not file.sealed:
            layout.demo_only()
            st.write(f"Demo: every invented person's password is “{PASSWORD}”.")


def _door(file: ClientFile, seat: Seat | None) -> None:
    st.title("Locked" if seat else "Sign in", anchor=False)
    tried = _refused()
    if seat:
        st.write(LOCKED)
    here = [each for each in file.people.all() if each.active]
    last = seat.person.id if seat else tried
    chosen = next((each.name for each in here if each.id == last), "")
    st.html(sign_in_html([each.name for each in here], chosen, _here()))
    if seat:
        st.html(sign_out_html("Sign in as somebody else"))
    account.offer(_here())


def _refused() -> str:
    """Say why the last try was refused, if it was, and return the id of who was chosen."""
    why, who = chair.refusal()
    words = refusal_words(why)
    if words:
        st.html(f'<div class="rim-flag" role="alert">{escape(words)}</div>')
    return who


def _here() -> str:
    """Return the address to come back to: the page that was asked for."""
    asked = urlsplit(st.context.url or "/")
    query = "&".join(f"{name}={held}" for name, held in st.query_params.items())
    return (asked.path or "/") + (f"?{query}" if query else "")
