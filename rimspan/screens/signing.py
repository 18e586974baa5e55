"""Saving from the sign page: one callback, once, through the gate in ``rimspan.consultation``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from html import escape
from typing import Any

import streamlit as st

from assess.talk.consent import unmet
from assess.talk.record import with_written
from rimspan.assessment import Assessment
from rimspan.clientfile import ClientFileError, Revision
from rimspan.consultation import NotConfirmedError, confirm_as, save
from rimspan.screens import chair, state, work
from rimspan.screens.document import MARKED_BY
from rimspan.screens.layout import html
from rimspan.screens.navigation import page
from rimspan.screens.sent_marks import without_undo
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import keep_decided, talk_of, words_in
from rimspan.screens.talk_words import DECISIONS, MOST, REPORTS, SHEET_FIELDS, leads_words
from rimspan.studio import age_rules
from rimspan.typed import in_html, shown


def saved(document: Mapping[str, Any]) -> Revision | None:
    """Return the revision that this very draft was saved as."""
    held = document.get("x_saved")
    return client_file().revision(held["id"]) if held else None


def sign(token: str, digest: str) -> None:
    """Save the open draft as an assessment, if a named piercer confirms it.

    The draft's token makes a second tap save nothing new.  The digest is of the assessment
    that was looked at: repeats kept elsewhere meanwhile may have moved its uncertainty.
    """
    client, document = state.client_id(), state.document()
    found = work.answer(document)
    same = isinstance(found, Assessment) and (document["x_token"], found.digest) == (token, digest)
    if client is None or not isinstance(found, Assessment) or not same:
        state.set_value("refused", (token, "The draft changed meanwhile. Look at it again."))
        return
    try:
        ticked = bool(state.value(f"examined {token}", False))
        confirmation = confirm_as(found, chair.person(), ticked, age_rules(client_file()))
        revision = save(
            client_file(),
            client,
            found,
            confirmation,
            measured_by=str(state.value("measured by", "")),
            pierced_by=str(state.value("pierced by", "")),
            token=token,
        )
    except (NotConfirmedError, ClientFileError) as refused:
        state.set_value("refused", (token, str(refused)))
        return
    state.set_value("refused", None)
    done = {"x_saved": {"id": revision.id, "number": revision.number}}
    state.change(lambda draft: without_undo(draft) | done if draft["x_token"] == token else draft)


def box(token: str, digest: str) -> None:
    """Draw the box to tick; a tick doesn't outlive a change of what it was set under.

    One that arrives together with a change was set with the change in sight, and stays.
    """
    key, drawn = f"examined {token}", f"box {token}"
    before = state.value(drawn)
    if before is not None and before[0] != digest and before[1]:
        state.set_value(key, False)
    ticked = st.checkbox("I examined this ear myself, and I decide.", key=key)
    state.set_value(drawn, (digest, ticked))


def refusal_html(words: str) -> str:
    """Return why nothing was saved."""
    return (
        '<div class="rim-flag" role="alert"><strong>Nothing was saved.</strong> '
        f"{escape(words)}</div>"
    )


def report_button(revision: Revision) -> None:
    """Draw the downloads of a revision's one-page report, one for each language."""
    for code, label in REPORTS.items():
        ending = "" if code == "en" else f"-{code}"
        st.download_button(
            label,
            data=partial(work.report, revision, code),
            file_name=f"rimspan-revision-{revision.number}{ending}.pdf",
            mime="application/pdf",
            on_click="ignore",
            key=f"report {code} {revision.id}",
        )


def people(document: Mapping[str, Any]) -> None:
    """Draw the three fields: who measured, who decides, who pierces.

    Who decides is who is signed in; the other two are chosen among those who work here.
    """
    names = [each.name for each in client_file().people.all() if each.active]
    marked = [photo.get(MARKED_BY, "") for photo in document["photos"]]
    likely = next((name for name in marked if name in names), state.piercer())
    measured, decides, pierces = st.columns(3)
    measured.selectbox(
        "Measured by", names, index=names.index(likely), format_func=shown, key="measured by"
    )
    with decides:
        who = in_html(state.piercer())
        html(f'<p class="rim-label">Decided by</p><p class="rim-decides">{who}</p>')
    pierces.selectbox("Pierced by", ["", *names], format_func=_or_later, key="pierced by")


def not_met(document: Mapping[str, Any]) -> None:
    """Draw, before anybody signs, what of age and consent isn't met; nothing where all is."""
    for sentence in unmet(talk_of(document).facts, age_rules(client_file())):
        html(f'<div class="rim-flag">{escape(sentence.text)}</div>')


def talked(document: Mapping[str, Any]) -> None:
    """Draw what the talk came to, and the piercer's decision."""
    talk, words = talk_of(document), words_in("en")
    if talk.given:
        html(f'<p class="rim-quiet">The talk: {escape(leads_words(talk.together, words))}</p>')
    st.page_link(page("talk"), label="Go to the talk")
    state.set_value("decided", talk.decided)
    st.segmented_control(
        "What is decided (optional)",
        list(DECISIONS),
        format_func=DECISIONS.__getitem__,
        key="decided",
        on_change=_decided,
    )
    with st.expander("For the client's sheet: ends, material, your reason (optional)"):
        for name, label in SHEET_FIELDS.items():
            key = f"written {name}"
            state.set_value(key, talk.written[name])
            st.text_input(label, key=key, max_chars=MOST[name], on_change=_wrote, args=(name,))


def _wrote(name: str) -> None:
    text = str(state.value(f"written {name}") or "")
    keep_decided(lambda old: with_written(old, name, text))


def _decided() -> None:
    decided = state.value("decided")
    keep_decided(lambda old: old | {"decided": decided})


def _or_later(name: str) -> str:
    return shown(name) or "not pierced yet"
