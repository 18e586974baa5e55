"""Keeping a visit from its page: one callback, once, through the gate in ``rimspan.visits``."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from assess.insertion import RecordError
from assess.visit_record import VisitRecord
from rimspan.clientfile import ClientFileError
from rimspan.screens import (
    chair,
    recheck_work,
    state,
    visit_channel,
    visit_draft,
    visit_parts,
)
from rimspan.screens.layout import html
from rimspan.screens.phone.arrival import kept_name, plain_name
from rimspan.screens.store import client_file
from rimspan.studio_clock import today
from rimspan.typed import in_html, shown
from rimspan.visit_posts import after, offered
from rimspan.visits import Piercing, Sent, record_visit


def form(held: Mapping[str, Any], piercing: Piercing) -> None:
    """Draw by whom, an empty box and one button; above them what is lacking."""
    names = [p.name for p in client_file().people.all() if p.active and p.role.may_confirm]
    if not names:
        return
    likely = state.piercer()
    st.selectbox(
        "Done by",
        names,
        index=names.index(likely) if likely in names else 0,
        format_func=shown,
        key="visit by",
    )
    token = held["token"]
    st.checkbox("I saw this ear myself, and I decide.", value=False, key=f"visit seen {token}")
    st.button("Keep the visit", type="primary", on_click=_keep, args=(token,))
    refused = state.value("visit refused")
    if refused and refused[0] == token:
        said = f"<strong>Nothing was kept.</strong> {in_html(refused[1])}"
        html(f'<div class="rim-flag" role="alert">{said}</div>')


def _keep(token: str) -> None:
    client, held = state.client_id(), visit_draft.held_in(state.document())
    piercing = visit_draft.piercing_of(held)
    if client is None or piercing is None or held.get("token") != token:
        state.set_value("visit refused", (token, "The visit changed meanwhile. Look at it again."))
        return
    try:
        kept = record_visit(
            client_file(), chair.person(), client, _visit(held, piercing), token, _photos(held)
        )
    except (RecordError, ClientFileError) as error:
        said = str(error)
        state.set_value("visit refused", (token, f"{said[:1].upper()}{said[1:]}."))
        return
    state.set_value("visit refused", None)
    visit_draft.close(token)
    state.leave_for("timeline")
    state.say(f"Visit {kept.number} is kept. It never changes; a further visit corrects it.")


def _visit(held: Mapping[str, Any], piercing: Piercing) -> VisitRecord:
    if not state.value(f"visit seen {held['token']}", False):
        raise RecordError("say that you saw this ear yourself and decide")
    done, was = visit_draft.done(held), visit_draft.before(held, piercing)
    if done is None:
        raise RecordError("say what is done")
    if was is None:
        raise RecordError("say which post was in")
    file = client_file()
    posts = offered(file, piercing.revision, was, done, today(file))
    now = after(held.get("after"), posts, was, done)
    recheck = recheck_work.to_keep(held, piercing)
    placement = visit_parts.placement_of(piercing)
    shorter = visit_channel.downsizing(held, piercing, placement, kept=True)
    by = str(state.value("visit by") or "")
    found = visit_draft.visit(held, piercing, now, by, (recheck, shorter))
    if found is None:
        raise RecordError("say what is done")
    return found


def _photos(held: Mapping[str, Any]) -> list[Sent]:
    found = []
    for trouble in held.get("troubles", {}):
        sent = state.value(visit_parts.photo_key(held, trouble))
        if sent is not None:
            data = sent.getvalue()
            found.append(Sent(trouble, kept_name(plain_name(sent.name), data), data))
    return found
