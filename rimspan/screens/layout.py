"""What every page has: its head with client and ear, the strip of stations, the statement."""

from __future__ import annotations

from html import escape
from importlib import resources

import streamlit as st

from assess.wording import IF_LIMITS_RIGHT, JUDGEMENT_STATEMENT
from rimspan.screens import state
from rimspan.screens.fields import keep_fields
from rimspan.screens.file_words import client_name
from rimspan.screens.navigation import STATIONS, TITLES, page
from rimspan.screens.sign_in_forms import sign_out_html
from rimspan.screens.store import client_file
from rimspan.screens.strip import stations_lack
from rimspan.screens.svg import Side, ear
from rimspan.sign_ins import idle_minutes
from rimspan.typed import in_html

DEMO_ONLY = "Demo data only: no passphrase."

CAUTIONS = (
    "This is no diagnosis. Local law and licensing come first.",
    "Signs of infection (redness that spreads, pus, fever, growing pain): licensed medical care "
    "the same day. An end that sinks in: the piercer the same day, for a longer post; where that "
    "can't be, medical care.",
)


def html(body: str) -> None:
    """Draw markup of our own; whatever people typed in it must be escaped before."""
    # An empty line would end the markup, and what follows be read as Markdown.
    st.markdown(" ".join(body.splitlines()), unsafe_allow_html=True)


def style() -> None:
    """Give the page its style sheet."""
    css = resources.files("rimspan.screens").joinpath("style.css").read_text("utf-8")
    st.html(f"<style>{css}</style>")


def head(current: str) -> None:
    """Draw the head of a page: who and which ear, and where one can go."""
    keep_fields()
    st.fragment(state.check_open, run_every=_look_every_s())()
    with st.container(horizontal=True, vertical_alignment="center", key="head"):
        for name in ("clients", "card"):
            st.page_link(page(name), label=TITLES[name])
        client, side = state.client_id(), state.side()
        if client is not None:
            _where(client, side)
            for name in ("timeline", "file"):
                st.page_link(page(name), label=TITLES[name])
        with st.container(horizontal=True, vertical_alignment="center", key="who"):
            st.page_link(page("stock"), label=TITLES["stock"])
            st.page_link(page("people"), label=state.piercer())
            st.html(sign_out_html("Sign out"))
        demo_only()
    if state.client_id() is not None and state.side() is not None and current not in HOMELESS:
        _strip(current)
    else:
        st.empty()  # keeps the place: what moves up or down the page loses the keyboard's focus


def demo_only() -> None:
    """Say, where it is so, that the client file opens to everybody."""
    if not client_file().sealed:
        html(f'<div class="rim-demo" role="note">{DEMO_ONLY}</div>')


HOMELESS = frozenset({"clients", "visit", "due", "outcomes"})
"""Pages that are no part of a consultation, whichever ear is open."""


def _look_every_s() -> float:
    """Return how often a page looks whether its chair is locked by now, s."""
    return min(max(6.0 * idle_minutes(client_file()), 1.0), 10.0)


def _where(client: str, side: Side | None) -> None:
    name = in_html(client_name(client_file().client(client).name))
    which = f"{ear(side, 36)} {side.capitalize()} ear" if side else "no ear chosen"
    html(f'<div class="rim-where"><span>{name}</span>{which}</div>')


def _strip(current: str) -> None:
    with st.spinner("Reading the photos ..."):
        lacks = stations_lack(read=current in STATIONS)
    with st.container(horizontal=True, key="strip"):
        for name in STATIONS:
            st.page_link(page(name), label=f"**{TITLES[name]}** {_small(lacks[name])}".strip())


def _small(words: str) -> str:
    return f":small[{words}]" if words else ""


def title(words: str) -> None:
    """Draw the page's title."""
    st.title(words, anchor=False)


def judgement() -> None:
    """Draw, under every result, that the piercer decides, and the usual cautions."""
    lines = [JUDGEMENT_STATEMENT, f"Every verdict here holds {IF_LIMITS_RIGHT}.", *CAUTIONS]
    body = "".join(f"<p>{escape(line)}</p>" for line in lines)
    html(f'<div class="rim-judgement" role="note">{body}</div>')


def said() -> None:
    """Show the line that a callback left."""
    words = state.said()
    if words:
        st.info(words)
    else:
        st.empty()  # keeps the place, and with it the keyboard's focus


def onward(name: str, label: str) -> None:
    """Draw the way to the next station; at the end of a page it stays in sight."""
    with st.container(key=f"onward-{name}"):
        st.page_link(page(name), label=label)
