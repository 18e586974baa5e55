"""On the timeline, under an assessment: its visits, the way to another, and what became of it."""

from __future__ import annotations

from functools import partial
from typing import get_args

import streamlit as st

from assess.day_words import in_words
from assess.insertion import RecordError
from assess.outcome_counts import Became, OutcomeRecord
from assess.visit_words import BECAME, visit_lines, worn_words
from rimspan.clientfile import RefusedError, Revision
from rimspan.following import outcomes_of, record_outcome
from rimspan.rechecks import last_followed
from rimspan.screens import chair, state, trend_parts, visit_draft
from rimspan.screens.acting import act
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.studio_clock import today
from rimspan.typed import in_html, in_markdown
from rimspan.visits import Piercing, piercings


def after_piercing(revision: Revision) -> None:
    """Draw what came after the piercing of each placement."""
    found = piercings(client_file(), revision.client_id, revision)
    for piercing in found:
        of = "" if len(found) == 1 else f", placement {piercing.label}"
        with st.expander(f"After the piercing{in_markdown(of)}: {_state(piercing)}"):
            _one(piercing)


def _state(piercing: Piercing) -> str:
    count = len(piercing.visits)
    if not count:
        return "no visit yet"
    return "1 visit" if count == 1 else f"{count} visits"


def _one(piercing: Piercing) -> None:
    revision = piercing.revision
    if piercing.worn is not None:
        st.write(in_markdown(f"In now: {worn_words(piercing.worn)}."))
    for kept in reversed(piercing.visits):
        said = "<br>".join(in_html(line) for line in visit_lines(kept.visit))
        html(f'<p class="rim-asked">{said}<br>Kept by {in_html(kept.recorded_by)}</p>')
        for at, digest in enumerate(kept.photos):
            alt = f"Photo {at + 1} of visit {kept.number}"
            st.image(client_file().photo_bytes(digest), width=240, caption=alt, alt=alt)
    trend_parts.trend(last_followed(piercing))
    for outcome in outcomes_of(client_file(), revision.client_id):
        if (outcome.revision, outcome.label) == (revision.number, piercing.label):
            words = f"{in_words(outcome.on)}: {BECAME[outcome.became]}, noted by {outcome.by}."
            st.write(in_markdown(f"{words} {outcome.clinician} {outcome.note}"))
    if revision.void is not None:
        return
    key = f"{revision.number} {piercing.label}"
    with st.container(horizontal=True, vertical_alignment="center"):
        if not piercing.out:
            side = next(each for each in state.SIDES if each == revision.side)
            begin = partial(
                visit_draft.begin, revision.client_id, side, revision.number, piercing.label
            )
            st.button("A visit", key=f"visit of {key}", type="primary", on_click=begin)
        _became(piercing, key)


def _became(piercing: Piercing, key: str) -> None:
    with st.popover("What became of it"):
        st.selectbox(
            "What became of it",
            list(get_args(Became)),
            format_func=lambda name: BECAME[name],
            index=None,
            key=f"became {key}",
        )
        st.text_input(
            "Clinician or clinic that saw it (for an infection)",
            key=f"clinician {key}",
            max_chars=120,
        )
        st.text_input("Note (optional)", key=f"outcome note {key}", max_chars=300)
        number = state.turn(f"outcome {key}")
        token = state.token(f"outcome {piercing.revision.id} {piercing.label}", number)
        st.button(
            "Note it", key=f"note it {key}", on_click=_noted, args=(piercing, key, number, token)
        )


def _noted(piercing: Piercing, key: str, number: int, token: str) -> None:
    if state.once(f"outcome {key}", number):
        act(
            partial(_record, piercing, key, token),
            "Noted what became of it.",
            f"clinician {key}",
            f"outcome note {key}",
        )


def _record(piercing: Piercing, key: str, token: str) -> None:
    became = state.value(f"became {key}")
    if became is None:
        raise RefusedError("choose what became of it")
    person, revision = chair.person(), piercing.revision
    try:
        outcome = OutcomeRecord(
            revision.number,
            piercing.label,
            today(client_file()),
            became,
            "" if person is None else person.name,
            str(state.value(f"outcome note {key}", "")).strip(),
            str(state.value(f"clinician {key}", "")).strip(),
        )
    except RecordError as error:
        raise RefusedError(str(error)) from None
    record_outcome(client_file(), person, revision.client_id, outcome, token)
