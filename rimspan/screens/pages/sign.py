"""Sign: who measured, who decides, the statement, an empty box, one button."""

from __future__ import annotations

import streamlit as st

from rimspan.assessment import Assessment
from rimspan.screens import answer_parts, layout, plan_parts, signing, state, take_home, work
from rimspan.screens.document import Document
from rimspan.screens.guard import need, opened
from rimspan.screens.navigation import page
from rimspan.screens.short_answer import short_answer
from rimspan.typed import in_markdown


def show() -> None:
    """Draw the page."""
    document = opened()
    if document is None:
        return
    layout.title("Sign")
    if signing.saved(document) is not None:
        _after(document)
        return
    found = work.answer(document) if document["photos"] or document["caliper"] else None
    if not isinstance(found, Assessment):
        need(document, "There is no answer to sign yet.", "answer")
        layout.judgement()
        return
    answer, form = st.columns([6, 5], gap="large")
    placements = work.result_of(found).placements
    with answer:
        for placement in placements:
            short_answer(placement, alone=len(placements) == 1)
        plan_parts.short(work.result_of(found))
        layout.onward("answer", "The whole answer")
        signing.talked(document)
    with form:
        _form(document, found.digest)


def _form(document: Document, digest: str) -> None:
    token = document["x_token"]
    signing.people(document)
    signing.not_met(document)
    layout.judgement()
    signing.box(token, digest)
    st.button("Save the assessment", type="primary", on_click=signing.sign, args=(token, digest))
    refused = state.value("refused")
    if refused and refused[0] == token:
        layout.html(signing.refusal_html(refused[1]))


def _after(document: Document) -> None:
    revision = signing.saved(document)
    if revision is None:
        return
    layout.html(f'<p class="rim-says">Saved as revision {revision.number}.</p>')
    st.write(
        f"Decided by {in_markdown(revision.decided_by)}, who states that they examined the ear and "
        "decide. A saved revision never changes; change a mark or a reading, and it becomes a "
        "new draft."
    )
    result = work.saved_result(revision)
    for placement in result.placements:
        answer_parts.headline(placement)
    plan_parts.short(result)
    with st.container(horizontal=True):
        signing.report_button(revision)
    take_home.papers(revision, document)
    layout.judgement()
    st.page_link(page("insertion"), label="Record what went in, or not here")
    layout.onward("timeline", "Go to the timeline")
