"""Days on the Talk page: the piercing, the client's own dates, and the visits between them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from functools import partial
from html import escape

import streamlit as st

from assess.talk.outcome import Question
from assess.talk.plan import Plan, Trip, earliest_day, plan_from
from assess.talk.record import TRIP, Talk, with_answer, with_trips
from assess.talk.record import trips as trips_of
from assess.talk.spans import Days
from rimspan.client_papers import Chosen, calendar_of, named
from rimspan.languages import Language
from rimspan.screens import state, talk_times
from rimspan.screens.document import Document
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import keep, keep_running, record, talk_of, words_in
from rimspan.screens.talk_words import DAYS_WHY, TRIP_KINDS, UPSIDE_DOWN
from rimspan.sheets.days import trip_lines, visit_lines
from rimspan.studio_clock import moments, today

WEEKS = 16
"""How much of the plan the strip shows: all visits, and the weeks in which a trip counts most."""
TICKS = range(0, WEEKS + 1, 4)


def until(question: Question, talk: Talk) -> None:
    """Draw until when an answer holds; where it isn't known it stays empty."""
    if question.id == TRIP:
        trips(talk)
        return
    key = f"until {question.id}"
    state.set_value(key, talk.given[question.id].until)
    st.date_input(
        "Until when? Empty: not known",
        value=None,
        key=key,
        format="DD.MM.YYYY",
        on_change=_until,
        args=(key,),
    )


def _until(key: str) -> None:
    name, day = key.removeprefix("until "), state.value(key)
    keep(lambda old: with_answer(old, name, old["answers"][name]["answers"], day))


def trips(talk: Talk) -> None:
    """Draw the client's own dates, and where one more is put to them."""
    words = words_in("en")
    for at, (trip, shown) in enumerate(zip(talk.trips, named(talk.trips, words), strict=True)):
        days = f"{words.day(trip.days.first)} to {words.day(trip.days.last)}"
        with st.container(horizontal=True, vertical_alignment="center"):
            html(f'<div class="rim-asked"><p>{escape(shown.name)}, {days}</p></div>')
            st.button("Take it out", key=f"no trip {at}", on_click=_removed, args=(trip,))
    kind, first, last, add = st.columns([3, 3, 3, 2], vertical_alignment="bottom")
    swims = TRIP in talk.given and talk.given[TRIP].answers == ("swim",)
    kinds = TRIP_KINDS[::-1] if swims else TRIP_KINDS
    kind.selectbox("What", kinds, format_func=words.say, key=f"trip kind {swims}")
    first.date_input("First day", value=None, key="trip first", format="DD.MM.YYYY")
    last.date_input("Last day", value=None, key="trip last", format="DD.MM.YYYY")
    add.button("Add these days", width="stretch", on_click=_added, args=(f"trip kind {swims}",))
    if refused := state.value(_refused()):
        html(f'<div class="rim-flag" role="alert">{escape(str(refused))}</div>')


def _refused() -> str:
    """Return where it stands why days were refused, for this ear alone."""
    return f"trip refused {state.client_id()} {state.side()}"


def _added(kind: str) -> None:
    first, last = state.value("trip first"), state.value("trip last")
    if first is None or last is None:
        state.set_value(_refused(), "Choose the first day and the last.")
        return
    if last < first:
        state.set_value(_refused(), UPSIDE_DOWN)
        return
    new = Trip(str(state.value(kind) or TRIP_KINDS[0]), Days(first, last))
    keep(lambda old: with_trips(old, [*trips_of(old), new]))
    for key in (_refused(), "trip first", "trip last"):
        state.set_value(key, None)


def _removed(trip: Trip) -> None:
    keep(lambda old: with_trips(old, [each for each in trips_of(old) if each != trip]))


def days(document: Document) -> None:
    """Draw the day, the client's own dates, the weeks after it, and the calendar file."""
    talk, words = talk_of(document), words_in("en")
    html(f'<p class="rim-quiet">{DAYS_WHY}</p>')
    day = talk.day or today(client_file())
    state.set_value("piercing day", day)
    st.date_input("Day of the piercing", key="piercing day", format="DD.MM.YYYY", on_change=_day)
    st.subheader("The client's own dates", anchor=False)
    trips(talk)
    st.subheader("The weeks after it", anchor=False)
    plan = plan_from(day)
    own = named(talk.trips, words)
    html(weeks(plan, own, words))
    lines = visit_lines(plan, own, moments(talk.times), words)
    for line in [*lines, *trip_lines(plan, own, words)]:
        st.write(line)
    free = earliest_day(day, talk.trips)
    if free != day:
        html(f'<p class="rim-live">No trip in the first weeks: from {words.day(free)} on.</p>')
        st.button(f"Plan from {words.day(free)} on", on_click=_planned, args=(free,))
    st.subheader("Times", anchor=False)
    talk_times.times(talk, plan, words)
    code = record(document).get("language", "en")
    calendar(str(document["side"]), Chosen("goes_ahead", code, times=talk.times), day)


def _planned(day: date) -> None:
    keep_running(lambda old: old | {"day": day.isoformat()})


def _day() -> None:
    chosen = state.value("piercing day")
    keep_running(
        lambda old: (
            old | {"day": chosen.isoformat()}
            if chosen
            else {name: value for name, value in old.items() if name != "day"}
        )
    )


def calendar(side: str, chosen: Chosen, day: date, key: str = "calendar") -> None:
    """Draw the download of the visits."""
    client = state.client_id() or ""
    st.download_button(
        "Visits for a calendar (.ics)",
        data=partial(_calendar, client, side, chosen, day),
        file_name="visits.ics",
        mime="text/calendar",
        on_click="ignore",
        key=key,
    )


def _calendar(client: str, side: str, chosen: Chosen, day: date) -> bytes:
    return calendar_of(client_file(), client, side, chosen, day, client_file().clock())


def weeks(plan: Plan, planned: Sequence[Trip], words: Language) -> str:
    """Return the weeks as a strip: a row for each visit, and for each of the client's dates."""
    rows = [(words.say(visit.name), visit.days, "visit") for visit in plan.visits]
    rows += [(trip.name, trip.days, "trip") for trip in planned]
    ticks = "".join(f'<span style="left:{100 * w / WEEKS:.1f}%">{w}</span>' for w in TICKS)
    drawn = "".join(_row(plan, *row) for row in rows)
    return (
        '<div class="rim-weeks"><div class="rim-week"><span>Weeks</span>'
        f'<div class="rim-ticks">{ticks}</div></div>{drawn}</div>'
    )


def _row(plan: Plan, name: str, span: Days, kind: str) -> str:
    last = plan.day + timedelta(weeks=WEEKS)
    beyond = span.last < plan.day or span.first > last
    body = "" if beyond else _bar(plan, Days(max(span.first, plan.day), min(span.last, last)), kind)
    said = f"{span.first:%d.%m.} to {span.last:%d.%m.%Y}"
    return (
        f'<div class="rim-week"><span>{escape(name)} <small>{said}</small></span>'
        f'<div class="rim-track">{body}</div></div>'
    )


def _bar(plan: Plan, span: Days, kind: str) -> str:
    whole = timedelta(weeks=WEEKS)
    left = (span.first - plan.day) / whole
    width = max((span.last - span.first + timedelta(days=1)) / whole, 0.012)
    place = f"left:{100 * left:.1f}%;width:{100 * min(width, 1 - left):.1f}%"
    return f'<i class="rim-{kind}" style="{place}"></i>'
