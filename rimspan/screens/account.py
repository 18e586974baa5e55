"""Signing in by the studio's identity provider, where ``.streamlit/secrets.toml`` names one."""

from __future__ import annotations

import time

import streamlit as st
from streamlit.user_info import UserInfoProxy

from rimspan.screens.sign_in_forms import ticket_html
from rimspan.screens.store import client_file
from rimspan.screens.tickets import TICKETS, account_of

UNKNOWN = (
    "The provider doesn't vouch for that e-mail, the login isn't fresh, or nobody here has that "
    "e-mail. A manager sets it on the People page."
)


def configured() -> bool:
    """Return whether Streamlit's login has a provider."""
    try:
        return "auth" in st.secrets
    except FileNotFoundError:
        return False


def login() -> UserInfoProxy:
    """Return what Streamlit's login knows of this browser."""
    return st.user


def offer(back: str) -> None:
    """Draw the way to the provider, and once it was gone, the way in.

    Parameters
    ----------
    back : the address to come back to
    """
    if not configured():
        return
    st.button("Sign in with the studio's account", on_click=st.login)
    user = login()
    if not user.is_logged_in:
        return
    claims = user.to_dict()
    account = account_of(claims, time.time())
    found = client_file().people.of_account(account) if account else None
    once = f"{claims.get('iss')} {claims.get('sub')} {claims.get('iat')}"
    ticket = TICKETS.issue(found.id, once, time.monotonic()) if found else None
    if found is None or ticket is None:
        st.write(UNKNOWN)
        return
    st.html(ticket_html(ticket, found.name, back))
