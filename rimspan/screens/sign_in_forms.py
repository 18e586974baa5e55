"""The forms of the sign-in, which are the browser's own: a script never sees the password."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from rimspan.screens.sign_in_routes import FIRST_MANAGER, SIGN_IN, SIGN_OUT


def sign_in_html(names: Iterable[str], chosen: str, back: str) -> str:
    """Return the form that signs in.

    Parameters
    ----------
    chosen : the name that is chosen at first
    back : the address to come back to
    """
    options = "".join(
        f"<option{' selected' if name == chosen else ''}>{escape(name)}</option>" for name in names
    )
    return (
        f'<form class="rim-sign" method="post" action="{SIGN_IN}">'
        f'<label for="rim-who">Who</label><select id="rim-who" name="person">{options}</select>'
        f"{_secret('secret', 'Password', 'current-password')}{_back(back)}"
        '<button type="submit">Sign in</button></form>'
    )


def first_manager_html(sealed: bool, back: str) -> str:
    """Return the form that names the first manager."""
    asked = _secret("passphrase", "Passphrase of the client file", "off") if sealed else ""
    return (
        f'<form class="rim-sign" method="post" action="{FIRST_MANAGER}">'
        '<label for="rim-who">Your name</label>'
        '<input id="rim-who" name="person" autocomplete="username" required maxlength="80">'
        f"{_secret('secret', 'Password, 8 signs or more', 'new-password')}"
        f"{_secret('again', 'The same again', 'new-password')}{asked}{_back(back)}"
        '<button type="submit">Begin</button></form>'
    )


def _secret(name: str, label: str, fills: str) -> str:
    return (
        f'<label for="rim-{name}">{label}</label><input id="rim-{name}" name="{name}" '
        f'type="password" autocomplete="{fills}" required maxlength="200">'
    )


def _back(to: str) -> str:
    return f'<input type="hidden" name="to" value="{escape(to)}">'


def sign_out_html(words: str) -> str:
    """Return the button that signs out."""
    return (
        f'<form class="rim-out" method="post" action="{SIGN_OUT}">'
        f'<button type="submit">{escape(words)}</button></form>'
    )


def ticket_html(ticket: str, name: str, back: str) -> str:
    """Return the form that signs in whom the identity provider vouches for."""
    return (
        f'<form class="rim-sign" method="post" action="{SIGN_IN}">'
        f'<input type="hidden" name="ticket" value="{ticket}">{_back(back)}'
        f'<button type="submit">Go on as {escape(name)}</button></form>'
    )
