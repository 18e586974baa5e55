"""Saving from the sign page: one callback, once, through the gate in ``rimspan.consultation``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from html import escape
from typing import Any

import streamlit as st

from rimspan.clientfile import Revision
from rimspan.consultation import Assessment, NotConfirmedError, confirm, save
from rimspan.screens import state, work
from rimspan.screens.sent_marks import without_undo
from rimspan.screens.store import client_file


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
        confirmation = confirm(found, str(state.value("decides", "")), ticked)
        measured_by = str(state.value("measured by", ""))
        revision = save(
            client_file(), client, found, confirmation, measured_by=measured_by, token=token
        )
    except NotConfirmedError as refused:
        state.set_value("refused", (token, str(refused)))
        return
    state.set_value("refused", None)
    done = {"x_saved": {"id": revision.id, "number": revision.number}}
    state.change(lambda draft: without_undo(draft) | done if draft["x_token"] == token else draft)


def refusal_html(words: str) -> str:
    """Return why nothing was saved."""
    return (
        '<div class="rim-flag" role="alert"><strong>Nothing was saved.</strong> '
        f"{escape(words)}</div>"
    )


def report_button(revision: Revision) -> None:
    """Draw the download of a revision's one-page report."""
    st.download_button(
        "Download the report (PDF)",
        data=partial(work.report, revision),
        file_name=f"rimspan-revision-{revision.number}.pdf",
        mime="application/pdf",
        on_click="ignore",
        key=f"report {revision.id}",
    )
