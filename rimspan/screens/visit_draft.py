"""The visit in the draft of an ear: what was tapped so far, so that leaving the page loses nothing.

It changes nothing of an assessment: whatever is begun beside it stays as it is.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, get_args

from assess.talk.spans import Days
from assess.visit_measured import Downsized, Recheck
from assess.visit_record import NextCheck, Noted, VisitRecord, WornNow, next_check
from assess.visit_signs import Done, Sign
from rimspan.screens import state
from rimspan.screens.store import client_file
from rimspan.screens.svg import Side
from rimspan.studio_clock import day_of, today
from rimspan.visits import Piercing, piercings

VISIT = "x_visit"
"""Where it lies in the draft."""

Held = dict[str, Any]


def begin(client: str, side: Side, revision: int, label: str) -> None:
    """Open a visit; one that was begun for the same placement goes on."""
    state.open_client(client, side)
    state.change(lambda draft: dict(draft) | {VISIT: _begun(draft, revision, label)})
    state.want("visit")


def _begun(draft: Mapping[str, Any], revision: int, label: str) -> Held:
    held = draft.get(VISIT) or {}
    if (held.get("revision"), held.get("label")) == (revision, label):
        return dict(held)
    return {"revision": revision, "label": label, "token": secrets.token_hex(16)}


def held_in(document: Mapping[str, Any]) -> Held:
    """Return what was tapped so far; empty where no visit is open."""
    return dict(document.get(VISIT) or {})


def keep(edit: Callable[[Held], Held]) -> None:
    """Change the open visit."""
    state.change(lambda draft: dict(draft) | {VISIT: edit(held_in(draft))})


def keep_value(name: str, key: str) -> None:
    """Keep what a field holds under a name."""
    found = state.value(key)
    value = found.isoformat() if isinstance(found, date) else found
    keep(lambda old: old | {name: value})


def close(token: str) -> None:
    """Close the visit that is kept now."""
    state.change(
        lambda draft: (
            {name: value for name, value in draft.items() if name != VISIT}
            if held_in(draft).get("token") == token
            else draft
        )
    )


def piercing_of(held: Mapping[str, Any]) -> Piercing | None:
    """Return the piercing that the open visit is of; None where it is none any more."""
    client = state.client_id()
    if client is None or not held:
        return None
    for revision in client_file().revisions(client):
        if revision.number == held["revision"] and revision.void is None:
            found = piercings(client_file(), client, revision)
            return next((each for each in found if each.label == held["label"]), None)
    return None


def signs(held: Mapping[str, Any]) -> tuple[Sign, ...]:
    """Return the signs that are seen."""
    known = get_args(Sign)
    return tuple(each for each in held.get("signs", ()) if each in known)


def done(held: Mapping[str, Any]) -> Done | None:
    """Return what is done; None where nobody said so yet."""
    found = held.get("done")
    return found if found in get_args(Done) else None


def pierced_on(held: Mapping[str, Any], piercing: Piercing) -> date:
    """Return the day of the piercing: as noted, as told, else that of the assessment."""
    if piercing.pierced_on is not None:
        return piercing.pierced_on
    told = held.get("pierced_on")
    if told:
        return date.fromisoformat(told)
    return day_of(client_file(), piercing.revision.created_at)


def before(held: Mapping[str, Any], piercing: Piercing) -> WornNow | None:
    """Return the post that was in: as noted, else as told; None where neither is."""
    if piercing.worn is not None:
        return piercing.worn
    length = held.get("length_before")
    return WornNow(float(held.get("gauge_before") or 1.2), float(length)) if length else None


def check(held: Mapping[str, Any], piercing: Piercing) -> NextCheck | None:
    """Return when to look again: as chosen, else as proposed."""
    what, on = done(held), today(client_file())
    if what is None:
        return None
    proposed = next_check(signs(held), what, pierced_on(held, piercing), on)
    first, last = held.get("next_first"), held.get("next_last")
    if proposed is None or not (first or last):
        return proposed
    days = proposed.days
    begins = date.fromisoformat(first) if first else days.first
    ends = date.fromisoformat(last) if last else days.last
    return NextCheck(proposed.name, Days(begins, max(begins, ends)))


def visit(
    held: Mapping[str, Any],
    piercing: Piercing,
    after: WornNow | None,
    by: str,
    measured: tuple[Recheck | None, Downsized | None] = (None, None),
) -> VisitRecord | None:
    """Return the visit as it stands; None while it isn't said what was in and what is done.

    ``measured`` is what was compared, and which length came of today's channel.

    Raises
    ------
    RecordError
        If something is lacking.
    """
    what, was = done(held), before(held, piercing)
    if what is None or was is None:
        return None
    words = held.get("troubles", {})
    return VisitRecord(
        revision=piercing.revision.number,
        label=piercing.label,
        on=today(client_file()),
        pierced_on=pierced_on(held, piercing),
        done=what,
        done_by=by,
        before=was,
        after=after,
        signs=signs(held),
        told_care=bool(held.get("told_care")),
        troubles=tuple(Noted(name, str(said)) for name, said in words.items()),
        next_check=check(held, piercing),
        because=str(held.get("because") or ""),
        note=str(held.get("note") or ""),
        recheck=measured[0],
        downsizing=measured[1],
    )
