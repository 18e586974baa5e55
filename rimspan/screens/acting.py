"""Acts of a page: done once, in a callback, and what came of it said."""

from __future__ import annotations

import secrets
from collections.abc import Callable

from rimspan.clientfile import ClientFileError
from rimspan.screens import state
from rimspan.typed import in_markdown


def act(what: Callable[[], object], done: str, *clear: str) -> bool:
    """Do something and say that it is done, or why it was refused.

    Parameters
    ----------
    clear : the keys of the fields to empty once it is done
    """
    try:
        what()
    except ClientFileError as error:
        said = str(error)
        said = f"{said[:1].upper()}{said[1:]}{'' if said.endswith('.') else '.'}"
        state.say(in_markdown(said))  # it may hold a name
        return False
    for key in clear:
        state.set_value(key, "")
    state.say(done)
    return True


def token(kind: str) -> str:
    """Return what names the next act of a kind: the same until it is :func:`spent`.

    Handed over when a button is drawn, it makes a second tap act once.
    """
    held = state.value(f"token {kind}")
    if not held:
        held = secrets.token_hex(16)
        state.set_value(f"token {kind}", held)
    return str(held)


def spent(kind: str) -> None:
    """Let the next act of a kind be another one."""
    state.set_value(f"token {kind}", "")
