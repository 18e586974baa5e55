"""The chair that a page is shown at: whose pass its browser carries."""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie

import streamlit as st

from rimspan.clientfile import Person
from rimspan.screens.store import client_file
from rimspan.sign_ins import Seat, SignIns

COOKIE = "rimspan_pass"
"""Carries the pass.  No script of a page can read it, no other site makes a browser send it."""
REFUSED = "rimspan_refused"
"""Carries, for seconds, why a sign-in was refused: to the page that is loaded next."""

SIGN_INS = SignIns(client_file)


def pass_in(cookies: str) -> str:
    """Return the pass in a request's Cookie header, or ``""``."""
    try:
        held = SimpleCookie(cookies).get(COOKIE)
    except CookieError:
        return ""
    return "" if held is None else held.value


def written() -> str:
    """Return the pass with which this page's connection was opened, or ``""``."""
    return str(st.context.cookies.get(COOKIE, ""))


def refusal() -> tuple[str, str]:
    """Return why the last sign-in at this browser was refused, and the id of who was chosen."""
    why, _, who = str(st.context.cookies.get(REFUSED, "")).partition(".")
    return why, who


def seat(*, used: bool = False) -> Seat | None:
    """Return who sits here, or None; ``used`` begins the minutes of the lock anew."""
    return SIGN_INS.seat(written(), used=used)


def person() -> Person | None:
    """Return who is at work here now, or None: nobody, or the chair is locked."""
    found = seat()
    return None if found is None or found.locked else found.person
