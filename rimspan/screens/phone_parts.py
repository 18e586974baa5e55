"""The Photos page's way to the studio's phone: a code to scan, and what came by it."""

from __future__ import annotations

import math
from html import escape

import streamlit as st

from rimspan.phone_link import End, Link
from rimspan.screens import layout, state
from rimspan.screens.phone.address import Reach, reach
from rimspan.screens.phone.arrival import Consultation
from rimspan.screens.phone.routes import LINKS, phone_path
from rimspan.screens.phone.words import REMINDER, Sentences
from rimspan.screens.qr import qr_svg
from rimspan.screens.store import client_file

LOOK_EVERY_S = 3
"""How often the page looks whether photos came; only while a code is open."""

SHOWN = "phone link"
"""What this visit shows: the link's id, its token, the address. Gone when the link is dead."""

Held = dict[str, str]


def from_phone() -> None:
    """Draw the way to the phone; a code while one is open."""
    here = _here()
    if here is None:
        return
    link = LINKS.latest(here)
    if link is not None and link.end is None:
        _open()
        return
    _closing(link)
    _closed()


def _here() -> Consultation | None:
    client, side = state.client_id(), state.side()
    if client is None or side is None:
        return None
    return Consultation(client_file(), client, side, state.piercer())


def _held() -> Held:
    return dict(state.value(SHOWN) or {})


def _reach() -> Reach | Sentences:
    return reach(st.context.url, st.get_option("server.address"), int(st.get_option("server.port")))


def _closed() -> None:
    found = _reach()
    if isinstance(found, Sentences):
        with st.expander("Photos from the studio's phone"):
            st.write(str(found))
        return
    st.button("Take photos with the studio's phone", key="phone code", on_click=_issue)


def _issue() -> None:
    here, found = _here(), _reach()
    if here is None or isinstance(found, Sentences):
        return
    token, link = LINKS.issue(here)
    state.set_value(SHOWN, {"id": link.id, "address": found.base + phone_path(token)})


@st.fragment(run_every=LOOK_EVERY_S)
def _open() -> None:
    """Draw the open code, anew every few seconds until it is dead."""
    state.check_open()
    here = _here()
    link = None if here is None else LINKS.latest(here)
    if link is None or link.end is not None:
        _closing(link)
        st.rerun()
        return
    held = _held()
    with st.container(border=True, key="phone"):
        if held.get("id") == link.id:
            _code(held["address"], link)
        else:  # the page was loaded anew, or another screen shows the code
            st.write(
                f"A code for the studio's phone is open elsewhere, {_left(link)}. Photos that "
                "come by it appear here."
            )
            st.button("Show a new code instead", key="phone anew", on_click=_issue)
        st.button("Take the code away", key="phone close", on_click=_withdraw, args=[link.id])


def _code(address: str, link: Link[Consultation]) -> None:
    picture, words = st.columns([1, 2])
    with picture:
        layout.html(qr_svg(address, "QR code of the address beside it"))
    with words:
        st.markdown("**Scan this with the studio's phone.**")
        layout.html(
            '<p class="rim-address" style="overflow-wrap:anywhere;font-family:monospace">'
            f"{escape(address)}</p>"
        )
        st.write(
            "It opens a page that only sends photos into this consultation and shows nothing of "
            f"the client. It works once, {_left(link)}. The phone must be in the same network "
            "as this machine, the studio's own."
        )
        if not address.startswith("https:"):
            st.write("Photos travel there unencrypted: use a closed network only.")
        st.write(REMINDER)


def _left(link: Link[Consultation]) -> str:
    minutes = math.ceil(link.left_s / 60)
    return "for one more minute" if minutes <= 1 else f"for {minutes} more minutes"


def _withdraw(link_id: str) -> None:
    LINKS.withdraw(link_id)


def _closing(link: Link[Consultation] | None) -> None:
    """Forget a code that is dead, and once say what became of it, with the newest draft."""
    held = _held()
    if not held or link is None or link.end is None or held["id"] != link.id:
        return
    state.set_value(SHOWN, None)
    if link.end is End.WITHDRAWN:
        return
    state.say(_became(link))
    st.rerun()


def _became(link: Link[Consultation]) -> str:
    if link.end is End.EXPIRED:
        return "The phone's code has run out, and nothing came by it. Show a new one if needed."
    count = "1 photo" if link.photos == 1 else f"{link.photos} photos"
    return f"{count} came from the phone. {REMINDER}"
