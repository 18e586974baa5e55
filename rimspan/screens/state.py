"""What a visit to the screens remembers; the one module that touches the session's state.

The draft itself lives in the client file, saved at every change; here is only which draft is
open, who sits here, and results that are dear to compute.  Photos are kept here for the visit
alone, never in a cache that visits share.
"""

from __future__ import annotations

import secrets
import threading
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

import streamlit as st

from rimspan.clientfile import UnknownError
from rimspan.screens import chair
from rimspan.screens.computed import text_of
from rimspan.screens.document import Document
from rimspan.screens.drafts import Hand, change_draft, draft_of
from rimspan.screens.store import FORGETTING, client_file
from rimspan.screens.svg import Side
from rimspan.sign_ins import Seat

T = TypeVar("T")

SIDES: tuple[Side, ...] = ("left", "right")
_CHANGING = threading.RLock()

KEPT = 12
"""Results that one visit holds on to."""
HELD = "held "
"""Names of what a visit holds on to begin with it."""


_erasures: list[int] = []
"""A number for each erasure since the program's start."""
FORGETTING.append(lambda hashes: _erasures.append(len(_erasures)))


def restore() -> None:
    """Open again what the page's address names, after a reload; forget what was erased."""
    if st.session_state.get("erasures", 0) != len(_erasures):
        for name in [str(n) for n in st.session_state if str(n).startswith(HELD)]:
            del st.session_state[name]
        st.session_state["erasures"] = len(_erasures)
    for name in ("client", "side"):
        if name not in st.session_state and name in st.query_params:
            st.session_state[name] = st.query_params[name]
    if client_id() is not None and not _known(client_id() or ""):
        open_client(None)


def _known(client: str) -> bool:
    try:
        return bool(client_file().client(client))
    except UnknownError:
        return False


def publish() -> None:
    """Write into the page's address what a reload needs."""
    for name in ("client", "side"):
        value = st.session_state.get(name)
        if value and st.query_params.get(name) != value:
            st.query_params[name] = value
        elif not value and name in st.query_params:
            del st.query_params[name]


def sit_down(seat: Seat) -> None:
    """Note who is at work here; what another person left in this window is forgotten."""
    if st.session_state.get("seat") != seat.number:
        if "seat" in st.session_state:
            st.session_state.clear()
        st.session_state["seat"] = seat.number
    st.session_state["who"] = seat.person.name


def piercer() -> str:
    """Return the name of who is at work, also while the chair is locked, or ``""``."""
    return str(st.session_state.get("who", ""))


def check_open() -> None:
    """End what a part of the page does by itself where the chair is locked: nothing is drawn."""
    if chair.person() is None:
        st.rerun()


def client_id() -> str | None:
    """Return the open client's id."""
    held = st.session_state.get("client")
    return None if held is None else str(held)


def side() -> Side | None:
    """Return which ear is open."""
    held = st.session_state.get("side")
    return next((ear for ear in SIDES if ear == held), None)


def open_client(client: str | None, ear: Side | None = None) -> None:
    """Open a client, and one of the ears."""
    st.session_state["client"] = client
    st.session_state["side"] = ear
    st.session_state.pop("said", None)


def begin_at(client: str, ear: Side) -> None:
    """Open an ear, and its page: the photos, or the marks where there are photos already."""
    open_client(client, ear)
    want("marks" if document()["photos"] else "photos")


def look_at_ear() -> None:
    """Note for other chairs which ear is open here."""
    client, ear = client_id(), side()
    chair.SIGN_INS.opens(chair.written(), (client, ear) if client and ear else None)


def open_document() -> Document | None:
    """Return the open draft, or None if no ear is open."""
    return document() if client_id() is not None and side() is not None else None


def document() -> Document:
    """Return the open draft as the client file has it.

    Raises
    ------
    LookupError
        If no client or no ear is open.
    """
    client, ear = client_id(), side()
    if client is None or ear is None:
        raise LookupError("no consultation is open")
    return draft_of(client_file(), client, ear)


def change(edit: Callable[[Document], Mapping[str, Any]]) -> None:
    """Replace the open draft by what ``edit`` makes of it, and save it if it differs.

    Streamlit starts the next run before the last one has ended, so a draft that was read
    earlier may be old: reading, editing and saving are one step here.
    """
    client, ear = client_id(), side()
    if client is None or ear is None:
        return
    change_draft(client_file(), client, ear, edit, hand())


def hand() -> Hand:
    """Return who changes drafts here."""
    return Hand(piercer(), str(st.session_state.get("seat", "")))


def token(kind: str, number: int) -> str:
    """Return the token of an act, the same for its number until the visit ends."""
    return remembered("token", [kind, number], lambda: secrets.token_hex(16), most=500)


def once(kind: str, number: int) -> bool:
    """Return whether this is the first call for that number, so that a double tap acts once."""
    with _CHANGING:
        done = int(st.session_state.get(f"done {kind}", -1)) >= number
        if not done:
            st.session_state[f"done {kind}"] = number
        return not done


def turn(kind: str) -> int:
    """Return the number that :func:`once` waits for."""
    return int(st.session_state.get(f"done {kind}", -1)) + 1


def value(key: str, otherwise: Any = None) -> Any:  # noqa: ANN401  (whatever the widget holds)
    """Return what a widget holds."""
    return st.session_state.get(key, otherwise)


def set_value(key: str, held: Any) -> None:  # noqa: ANN401
    """Set what a widget will hold when it is drawn next."""
    st.session_state[key] = held


def show_in_fields(held: Mapping[str, Any]) -> None:
    """Let fields that were drawn before show what another chair put into the draft."""
    for key, now in held.items():
        if key in st.session_state and st.session_state[key] != now:
            st.session_state[key] = now


def say(words: str) -> None:
    """Leave a line for the page to show until another page is opened."""
    st.session_state["said"] = words


def said() -> str:
    """Return the line that was left, or ``""``."""
    return str(st.session_state.get("said", ""))


def at_page(page: str) -> None:
    """Note which page is open; what was said on another is forgotten."""
    if st.session_state.get("page") not in {None, page}:
        st.session_state.pop("said", None)
    st.session_state["page"] = page


def remembered(kind: str, key: Any, compute: Callable[[], T], most: int = KEPT) -> T:  # noqa: ANN401
    """Return ``compute()``, computed once in this visit for each key of a kind.

    Parameters
    ----------
    key : anything that JSON can hold; equal text is the same key
    most : how many of this kind are held on to, the oldest going first
    """
    held: dict[str, T] = st.session_state.setdefault(f"{HELD}{kind}", {})
    name = text_of(key)
    if name not in held:
        held[name] = compute()
        while len(held) > most:
            held.pop(next(iter(held), name), None)
    return held[name]


def want(page: str) -> None:
    """Ask, from a callback, for a page to be opened next."""
    st.session_state["wanted"] = page


def leave_for(page: str) -> None:
    """Ask, from a callback, for a page that shows what is said after this."""
    want(page)
    at_page(page)


def wanted() -> str | None:
    """Return the page that was asked for, and forget it."""
    page = st.session_state.pop("wanted", None)
    return None if page is None else str(page)
