"""The parts of the Due page and of Start: who is expected, the text to copy, the calendar file."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import streamlit as st

from assess.due_list import Expected, State
from assess.visit_words import STATES, STATES_WHY, how_long_words, span_words
from rimspan.client_papers import check_calendar
from rimspan.following import Who, due
from rimspan.reminders import reminder
from rimspan.screens import state
from rimspan.screens.file_words import client_name
from rimspan.screens.layout import html
from rimspan.screens.navigation import page
from rimspan.screens.store import client_file
from rimspan.screens.talk_words import LANGUAGES
from rimspan.studio_clock import today
from rimspan.studio_words import spoken
from rimspan.typed import in_markdown

ON_START = 5
"""Names that Start shows; all stand on the Due page."""

LOOKED_AT: tuple[State, ...] = ("overdue", "due", "silent")


def on_start() -> None:
    """Draw who is due, the first few, and the way to all."""
    found = due(client_file())
    waiting = [(state_, each) for state_ in LOOKED_AT for each in found[state_]]
    if not any(found.values()):
        return
    st.subheader("Who is due", anchor=False)
    if not waiting:
        st.write("Nobody is due for a look today.")
    for how, each in waiting[:ON_START]:
        _line(each, how, "start")
    if len(waiting) > ON_START:
        st.write(f"{len(waiting)} in all.")
    st.page_link(page("due"), label="The whole list")


def _line(each: Expected[Who], how: State, where: str) -> None:
    who = each.who
    file = client_file()
    words, days = spoken(file, "en").say(each.check.name), each.check.days
    with st.container(horizontal=True, vertical_alignment="center", key=_key("due", each, where)):
        st.button(
            in_markdown(client_name(who.name)),
            key=_key("go", each, where),
            on_click=_opened,
            args=(who,),
        )
        st.markdown(
            f"**{STATES[how]}**, {how_long_words(days, today(file))}: {words}, "
            f"{span_words(days)}, {who.side} ear, placement {in_markdown(who.label)}"
        )


def _key(kind: str, each: Expected[Who], where: str) -> str:
    who = each.who
    return f"{kind}-{where}-{who.client_id}-{who.revision}-{who.label}"


def _opened(who: Who) -> None:
    state.open_client(who.client_id)
    state.want("timeline")


def listed(how: State, those: Sequence[Expected[Who]]) -> None:
    """Draw everybody who stands in one way."""
    st.subheader(f"{STATES[how]}: {len(those)}", anchor=False)
    html(f'<p class="rim-quiet">{STATES_WHY[how]}</p>')
    for each in those:
        with st.container(border=True):
            _line(each, how, "list")
            with st.expander("A text to send, and the days for a calendar"):
                _to_send(each, late=how in {"overdue", "silent"})


def _to_send(each: Expected[Who], late: bool) -> None:
    code = st.segmented_control(
        "Language",
        list(LANGUAGES),
        format_func=LANGUAGES.__getitem__,
        default="en",
        key=_key("language", each, "list"),
    )
    words = spoken(client_file(), code or "en")
    st.text_area(
        "Copy it: the program sends nothing",
        value=reminder(each.check, words, late=late),
        key=_key(f"text-{words.code}", each, "list"),
        height=180,
    )
    st.download_button(
        "These days for a calendar (.ics)",
        data=partial(_calendar, each, words.code),
        file_name="next-visit.ics",
        mime="text/calendar",
        on_click="ignore",
        key=_key("calendar", each, "list"),
    )


def _calendar(each: Expected[Who], code: str) -> bytes:
    who = each.who
    of = f"{who.client_id} {who.side} {who.revision} {who.label}"
    return check_calendar(of, each.check, spoken(client_file(), code), client_file().clock())
