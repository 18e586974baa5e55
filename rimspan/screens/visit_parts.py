"""The parts of the Visit page: first things first, what is done, troubles, when to look again."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import partial
from html import escape
from typing import Any, get_args

import streamlit as st

from assess.day_words import in_words
from assess.result import PlacementOut
from assess.visit_measured import Downsized
from assess.visit_record import TROUBLES, WornNow
from assess.visit_signs import FIRST, SIGNS, Done, against, asked_by
from assess.visit_words import DONE, span_words, spare_words, worn_words
from rimspan.result_words import between, posts_words
from rimspan.screens import state, visit_channel, visit_draft, work
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.screens.visit_draft import keep, keep_value
from rimspan.studio_clock import today
from rimspan.typed import in_html
from rimspan.visit_posts import name_of, offered
from rimspan.visits import Piercing

Held = Mapping[str, Any]
_SIGN_WORDS = {each.sign: each.text for each in SIGNS}


def field(key: str, now: object) -> str:
    """Let a field show what the draft holds, and return its key."""
    state.set_value(key, now)
    return key


def placement_of(piercing: Piercing) -> PlacementOut:
    """Return the placement as it was measured."""
    found = work.saved_result(piercing.revision).placements
    return next(each for each in found if each.label == piercing.label)


def known(held: Held, piercing: Piercing) -> None:
    """Draw what is known of the piercing: since when, and which post is in."""
    revision = piercing.revision
    where = f"Placement {piercing.label}, {revision.side} ear, revision {revision.number}."
    html(f'<p class="rim-quiet">{in_html(where)}</p>')
    if piercing.worn is not None and piercing.pierced_on is not None:
        since = in_words(piercing.pierced_on)
        words = f"Pierced on {since}. In now: {worn_words(piercing.worn)}."
        html(f'<p class="rim-live">{in_html(words)}</p>')
        return
    html('<p class="rim-quiet">Nothing is noted of what was put in; say it here.</p>')
    length, gauge, day = st.columns(3)
    length.number_input(
        "Length of the post that was in, mm",
        min_value=0.0,
        max_value=40.0,
        step=0.1,
        key=field("visit length before", float(held.get("length_before") or 0.0)),
        on_change=partial(keep_value, "length_before", "visit length before"),
    )
    gauge.number_input(
        "Its thickness, mm",
        min_value=0.5,
        max_value=4.0,
        step=0.1,
        key=field("visit gauge before", float(held.get("gauge_before") or 1.2)),
        on_change=partial(keep_value, "gauge_before", "visit gauge before"),
    )
    day.date_input(
        "Day of the piercing",
        key=field("visit pierced on", visit_draft.pierced_on(held, piercing)),
        format="DD.MM.YYYY",
        on_change=partial(keep_value, "pierced_on", "visit pierced on"),
    )


def first_things(held: Held) -> None:
    """Draw what is looked for before anything else, and what it asks for."""
    st.subheader("First things first", anchor=False)
    html('<p class="rim-quiet">Tap what you see. Nothing tapped: none of them is seen.</p>')
    seen = visit_draft.signs(held)
    st.pills(
        "What is seen",
        list(_SIGN_WORDS),
        selection_mode="multi",
        format_func=_SIGN_WORDS.__getitem__,
        key=field("visit signs", list(seen)),
        label_visibility="collapsed",
        on_change=partial(keep_value, "signs", "visit signs"),
    )
    asked = asked_by(seen)
    for each in asked:
        html(f'<div class="rim-flag" role="alert">{escape(FIRST[each])}</div>')
    if "care" in asked:
        st.checkbox(
            "I sent the client to licensed medical care today",
            key=field("visit care", bool(held.get("told_care"))),
            on_change=partial(keep_value, "told_care", "visit care"),
        )


def planned(piercing: Piercing) -> None:
    """Draw the channel as it was measured, and the posts that were planned."""
    measured = placement_of(piercing)
    lines = [f"Channel as measured then: {between(measured.channel, 'not measured')}."]
    if measured.channel is not None and measured.posts is not None:
        lines += [f"{name}: {words}" for name, _, words in posts_words(measured)]
    html("".join(f'<p class="rim-quiet">{in_html(line)}</p>' for line in lines))


def what_is_done(held: Held, piercing: Piercing) -> None:
    """Draw what is done, and for another post which one, with the spare length that it leaves."""
    st.subheader("What is done", anchor=False)
    planned(piercing)
    st.segmented_control(
        "What is done",
        list(get_args(Done)),
        format_func=lambda name: DONE[name],
        key=field("visit done", held.get("done")),
        label_visibility="collapsed",
        on_change=partial(keep_value, "done", "visit done"),
    )
    visit_channel.today_fields(held)
    found = visit_channel.downsizing(held, piercing, placement_of(piercing))
    if found is not None:
        visit_channel.said(found)
    done, was = visit_draft.done(held), visit_draft.before(held, piercing)
    if done is None:
        return
    if was is None:
        html('<div class="rim-flag">Say above which post was in.</div>')
        return
    if done in {"lengthen", "shorten"}:
        _which(held, piercing, done, was, found)
    longer = visit_channel.swollen(held, piercing)
    speaks = against(visit_draft.signs(held), done, longer_channel=longer)
    if speaks:
        html(f'<div class="rim-flag">Against it: {escape("; ".join(speaks))}.</div>')
        st.text_input(
            "Why it is done all the same",
            key=field("visit because", str(held.get("because") or "")),
            max_chars=300,
            on_change=partial(keep_value, "because", "visit because"),
        )


def _which(
    held: Held, piercing: Piercing, done: Done, was: WornNow, found: Downsized | None
) -> None:
    file = client_file()
    posts = offered(file, piercing.revision, was, done, today(file))
    channel = placement_of(piercing).channel if found is None else found.channel
    if not posts:
        html('<div class="rim-flag">No post of the stock is of that kind.</div>')
        return
    names = {name_of(post): post for post in posts}
    chosen = held.get("after")
    st.selectbox(
        "Which post is in now",
        list(names),
        format_func=lambda name: (
            f"{worn_words(names[name])}: {spare_words(names[name].length_mm, channel)}"
        ),
        index=None,
        placeholder="Choose the length that went in",
        key=field("visit after", chosen if chosen in names else None),
        on_change=partial(keep_value, "after", "visit after"),
    )
    when = "then" if found is None else "today"
    html(f'<p class="rim-quiet">Spare length by the channel as it was measured {when}.</p>')


def troubles(held: Held) -> None:
    """Draw the troubles: described in the piercer's words, with a photo of each."""
    st.subheader("Troubles", anchor=False)
    html('<p class="rim-quiet">Described, not diagnosed. Optional.</p>')
    words: Mapping[str, str] = held.get("troubles", {})
    st.pills(
        "Troubles",
        list(TROUBLES),
        selection_mode="multi",
        key=field("visit troubles", [name for name in TROUBLES if name in words]),
        label_visibility="collapsed",
        on_change=_troubled,
    )
    for name in words:
        said, photo = st.columns(2)
        said.text_input(
            f"What is seen: {name}",
            key=field(f"visit trouble {name}", words[name]),
            max_chars=300,
            on_change=_said,
            args=(name,),
        )
        photo.file_uploader(
            f"Photo of it: {name} (optional)",
            type=["jpg", "jpeg", "png", "heic"],
            key=photo_key(held, name),
        )


def photo_key(held: Held, trouble: str) -> str:
    """Return under which key the photo of a trouble waits."""
    return f"visit photo {held.get('token')} {trouble}"


def _troubled() -> None:
    names = list(state.value("visit troubles") or [])

    def edit(old: dict[str, Any]) -> dict[str, Any]:
        words = old.get("troubles", {})
        return old | {"troubles": {name: words.get(name, "") for name in names}}

    keep(edit)


def _said(name: str) -> None:
    said = str(state.value(f"visit trouble {name}", ""))
    keep(lambda old: old | {"troubles": old.get("troubles", {}) | {name: said}})


def next_look(held: Held, piercing: Piercing) -> None:
    """Draw when to look again: proposed, and changed by the piercer."""
    check = visit_draft.check(held, piercing)
    if check is None:
        return
    st.subheader("When to look again", anchor=False)
    html(f'<p class="rim-live">{escape(span_words(check.days))}</p>')
    first, last = st.columns(2)
    for place, name, label, day in (
        (first, "next_first", "From", check.days.first),
        (last, "next_last", "To", check.days.last),
    ):
        place.date_input(
            label,
            key=field(f"visit {name}", day),
            format="DD.MM.YYYY",
            on_change=_look_on,
            args=(name, day),
        )


def _look_on(name: str, proposed: date) -> None:
    day = state.value(f"visit {name}") or proposed
    keep(lambda old: old | {name: day.isoformat()})


def note(held: Held) -> None:
    """Draw a note of the piercer's."""
    st.text_input(
        "Note (optional)",
        key=field("visit note", str(held.get("note") or "")),
        max_chars=300,
        on_change=partial(keep_value, "note", "visit note"),
    )
