"""Times on the Talk page: for each visit a day and an hour to tap, by the studio's clock."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time
from functools import partial
from html import escape

import streamlit as st

from assess.talk.plan import DAY, Plan
from assess.talk.record import Agreed, Talk, with_time
from assess.talk.spans import Days, each_day, free
from rimspan.languages import Language
from rimspan.screens import state
from rimspan.screens.clock_parts import zone
from rimspan.screens.layout import html
from rimspan.screens.talk_draft import keep_running
from rimspan.screens.talk_words import AGREE, AWRY, CHANGE_TIME, CLOSE, NO_TIME, TIMES_WHY
from rimspan.sheets.days import span

OPENS, CLOSES = 8, 20
"""Between these hours a time can be tapped, on each half hour."""
TIMES = [time(hour, minute) for hour in range(OPENS, CLOSES) for minute in (0, 30)]


def _agreeing() -> str:
    """Return where it stands which visit's time is being agreed, for this ear alone."""
    return f"agreeing {state.client_id()} {state.side()}"


def times(talk: Talk, plan: Plan, words: Language) -> None:
    """Draw each visit with the time that was agreed, and where one is agreed."""
    named = {DAY: Days(plan.day, plan.day)} | {visit.name: visit.days for visit in plan.visits}
    html(f'<p class="rim-quiet">{TIMES_WHY} {escape(zone().replace("_", " "))}.</p>')
    for name, days in named.items():
        left = free(days, [trip.days for trip in talk.trips])
        opened = state.value(_agreeing()) == name
        with st.container(horizontal=True, vertical_alignment="center", key=f"time-{name[6:]}"):
            _visit(words.say(name), span(days, words), talk.times.get(name), left, words)
            agree = CHANGE_TIME if name in talk.times else AGREE
            label, to = (CLOSE, None) if opened else (agree, name)
            about = label.format(visit=words.say(name))
            st.button(about, key=f"agree {name}", on_click=_open, args=(to,))
            if name in talk.times:
                st.button("Take it back", key=f"no time {name}", on_click=_none, args=(name,))
        if opened:
            _pick(name, plan, left)


def _visit(
    name: str, days: str, agreed: Agreed | None, left: Sequence[Days], words: Language
) -> None:
    bold = f"<strong>{escape(name)}</strong>"
    if agreed is None:
        html(f'<div class="rim-asked"><p>{bold}, {days}: {NO_TIME}</p></div>')
        return
    day = agreed.at.date()
    said = f"{agreed.at:%A}, {words.day(day)}, {words.clock(agreed.at.time())}"
    flag = "" if any(each.holds(day) for each in left) else f'<p class="rim-flag">{AWRY}</p>'
    place = escape(agreed.zone.replace("_", " "))
    html(f'<div class="rim-asked"><p>{bold}: {said} <span>{place}</span></p>{flag}</div>')


def _open(name: str | None) -> None:
    state.set_value(_agreeing(), name)
    for key in ("time day", "time other", "time hour"):
        state.set_value(key, None)


def _pick(name: str, plan: Plan, left: Sequence[Days]) -> None:
    """Draw the days to tap, another day, and the hours."""
    with st.container(border=True, key="times"):
        day = partial(_chosen, name, plan)
        offered = [each for days in left for each in each_day(days)]
        if offered:
            st.pills("Day", offered, format_func=_day, key="time day", on_change=day)
        st.date_input(
            "Another day",
            None,
            min_value=plan.day,
            key="time other",
            format="DD.MM.YYYY",
            on_change=day,
        )
        st.pills("Time", TIMES, format_func=_clock, key="time hour", on_change=day)


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _clock(at: time) -> str:
    return f"{at:%H:%M}"


def _chosen(name: str, plan: Plan) -> None:
    """Keep the time once a day and an hour are tapped, and the day that it all counts from."""
    on, at = state.value("time other") or state.value("time day"), state.value("time hour")
    if on is None or at is None:
        return
    when, by = datetime.combine(on, at), zone()
    keep_running(lambda old: with_time({"day": plan.day.isoformat()} | old, name, when, by))
    _open(None)


def _none(name: str) -> None:
    keep_running(lambda old: with_time(old, name, None))
