"""The parts of the insertion page: what went in where, the photo right after."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, time

import streamlit as st

from assess.insertion import Declined, OpenedUnused
from assess.result import PlacementOut, PostOut
from assess.stock import StockItem
from calibration.photo import PhotoError
from rimspan.clientfile import ClientFileError, Person, Revision
from rimspan.insertions import (
    Happened,
    Sitting,
    record_baseline,
    record_insertion,
    speaks_against,
)
from rimspan.not_here import record_wish, wish_of
from rimspan.screens import chair, layout, state, work
from rimspan.screens.acting import act, spent, token
from rimspan.screens.insertion_words import (
    AFTER,
    WHAT,
    WHOSE,
    against_words,
    placement_words,
    sitting_lines,
)
from rimspan.screens.phone.arrival import kept_name, plain_name
from rimspan.screens.stock_words import length_words, post_words
from rimspan.screens.store import client_file
from rimspan.stock_keeping import stock_of
from rimspan.studio_clock import at_here, here
from rimspan.typed import in_html, in_markdown, shown


def kept(sitting: Sitting) -> None:
    """Draw what was recorded of a sitting."""
    lines = "<br>".join(in_html(line) for line in sitting_lines(sitting))
    layout.html(f'<div class="rim-flag note">{lines}</div>')


def what_happened(revision: Revision, done: set[str], person: Person) -> None:
    """Draw the fields for what really happened, and the button that keeps it."""
    items = {i.key: i for i in stock_of(client_file()).stock.items if i.count > 0}
    placements = work.saved_result(revision).placements
    for placement in placements:
        if placement.label not in done:
            with st.container(border=True):
                _placement(revision, placement, len(placements), items)
    if items:  # a choice among none is too pale to read
        used, why = st.columns(2)
        used.multiselect(
            "Opened and not used",
            list(items),
            format_func=lambda key: post_words(items[key]),
            key=f"opened {revision.id}",
        )
        why.text_input("Why", key=f"opened why {revision.id}", max_chars=200)
    _who_and_when(revision, person)
    st.checkbox("The dots were drawn anew since it was measured", key=f"anew {revision.id}")
    st.checkbox("The ear isn't as it was measured (swollen, sore)", key=f"changed {revision.id}")
    against = speaks_against(client_file(), revision, happened(revision, person))
    if against:
        layout.html(f'<div class="rim-flag">{in_html(against_words(against))}</div>')
        st.text_input("Why you go ahead", key=f"because {revision.id}", max_chars=300)
    once = token(f"insertion {revision.id}")
    st.button("Keep what happened", type="primary", on_click=_keep, args=(revision, once))


def _placement(
    revision: Revision, placement: PlacementOut, count: int, items: Mapping[str, StockItem]
) -> None:
    key = f"{revision.id} {placement.label}"
    st.segmented_control(
        placement_words(placement.label, count),
        list(WHAT),
        format_func=WHAT.__getitem__,
        key=f"what {key}",
    )
    if state.value(f"what {key}") == "in" and items:
        post = placement.posts.initial if placement.posts is not None else None
        wanted = (post.gauge_mm, post.length_mm) if isinstance(post, PostOut) else None
        if wanted is not None:
            st.caption(f"The answer chose {wanted[0]:g} mm, {length_words(wanted[1])}.")
        fits = [k for k in items if (items[k].gauge_mm, items[k].length_mm) == wanted]
        st.selectbox(
            "Which post",
            [*fits, *(k for k in items if k not in fits)],
            0 if fits else None,  # never another one than was chosen, unless somebody says so
            format_func=lambda k: post_words(items[k]),
            key=f"post {key}",
        )
    elif state.value(f"what {key}") == "declined":
        st.text_input("Why not", key=f"declined {key}", max_chars=200)
        st.segmented_control(
            "Whose decision", list(WHOSE), format_func=WHOSE.__getitem__, key=f"whose {key}"
        )


def _who_and_when(revision: Revision, person: Person) -> None:
    names = [p.name for p in client_file().people.all() if p.active and p.role.may_confirm]
    likely = revision.pierced_by if revision.pierced_by in names else person.name
    who, day, clock = st.columns(3)
    index = names.index(likely) if likely in names else 0
    key = f"pierced {revision.id}"
    who.selectbox("Pierced by", names, index, format_func=shown, key=key)
    now = _begun(revision)
    day.date_input("Day", now.date(), key=f"day {revision.id}")
    clock.text_input("Time, as 14:05", f"{now:%H:%M}", key=f"time {revision.id}", max_chars=5)


def _begun(revision: Revision) -> datetime:
    """Return when the fields were drawn first: a time that moved on would undo what was typed."""
    held = state.value(f"begun {revision.id}")
    if held is None:
        held = here(client_file(), client_file().clock()).replace(second=0, microsecond=0)
        state.set_value(f"begun {revision.id}", held)
    return datetime.fromisoformat(str(held))


def _clock(revision: Revision) -> time | None:
    """Return the time that was typed, or None where it is none."""
    try:
        return time.fromisoformat(str(state.value(f"time {revision.id}") or "").strip())
    except ValueError:
        return None


def happened(revision: Revision, person: Person) -> Happened:
    """Return what the fields say."""

    def held(name: str, label: str = "") -> str:
        of = f"{name} {revision.id} {label}" if label else f"{name} {revision.id}"
        return str(state.value(of) or "")

    labels = [placement.label for placement in work.saved_result(revision).placements]
    said = {label: held("what", label) for label in labels}
    begun = _begun(revision)
    day = state.value(f"day {revision.id}") or begun.date()
    clock = _clock(revision) or begun.time()
    return Happened(
        at_here(client_file(), day, clock),
        held("pierced") or person.name,
        {x: held("post", x) for x in labels if said[x] == "in" and held("post", x)},
        tuple(
            OpenedUnused(key, held("opened why"))
            for key in state.value(f"opened {revision.id}") or ()
        ),
        tuple(
            Declined(
                x, held("declined", x), "client" if held("whose", x) == "client" else "piercer"
            )
            for x in labels
            if said[x] == "declined"
        ),
        bool(state.value(f"anew {revision.id}")),
        bool(state.value(f"changed {revision.id}")),
        held("because"),
    )


def _keep(revision: Revision, once: str) -> None:
    person = chair.person()
    if person is None:
        return
    if _clock(revision) is None:
        state.say("The time isn't as 14:05; nothing was kept.")
        return
    what = happened(revision, person)
    if act(
        lambda: record_insertion(client_file(), person, revision.id, what, once),
        "Kept. The stock is counted down.",
    ):
        spent(f"insertion {revision.id}")


def wish(client: str) -> None:
    """Draw what the client would like to wear later, in their words."""
    key = f"wish {client}"
    if state.value(key) is None:
        state.set_value(key, wish_of(client_file(), client))
    words = "What the client would like to wear there later, in their words (optional)"
    st.text_input(words, key=key, max_chars=120)
    st.button("Keep the wish", on_click=_wished, args=(client, token(f"wish {client}")))


def _wished(client: str, once: str) -> None:
    said = str(state.value(f"wish {client}") or "")
    if act(lambda: record_wish(client_file(), chair.person(), client, said, once), "Kept."):
        spent(f"wish {client}")


def photo_after(client: str, sitting: Sitting) -> None:
    """Draw where the photo right after an insertion is taken or chosen."""
    st.write(AFTER)
    count = int(state.value("baselines", 0))
    st.file_uploader(
        "Take the photo right after, or choose it",
        type=["jpg", "jpeg", "png", "heic", "heif", "hif"],
        key=f"baseline {sitting.number} {count}",
        on_change=_photographed,
        args=(client, sitting, count, token(f"baseline {sitting.number}")),
    )


def _photographed(client: str, sitting: Sitting, count: int, once: str) -> None:
    upload = state.value(f"baseline {sitting.number} {count}")
    if upload is None:
        return
    state.set_value("baselines", count + 1)
    photo_came(client, sitting, str(upload.name), upload.getvalue(), once)


def photo_came(client: str, sitting: Sitting, name: str, data: bytes, once: str) -> None:
    """Keep a photo as the one right after an insertion; it doesn't go into the marks' draft."""
    file, person, plain = client_file(), chair.person(), plain_name(name)
    if person is None:
        return
    try:
        photo = file.add_photo(client, data, kept_name(plain, data), sitting.side, by=person.name)
        record_baseline(file, person, client, sitting.number, (photo.sha256,), once)
    except (PhotoError, ClientFileError) as error:
        state.say(in_markdown(f"{plain}: {error}"))
        return
    spent(f"baseline {sitting.number}")
    state.say("The photo right after is kept.")
