"""Today's photos and the baseline's marks in the draft of an open visit."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Literal

from rimspan.post_marks import as_marked
from rimspan.rechecks import Baseline
from rimspan.screens import state, visit_draft
from rimspan.screens.document import Document, hashes, with_photo, without_photo
from rimspan.screens.drafts import change_draft, draft_of
from rimspan.screens.sent_marks import with_sent
from rimspan.screens.store import client_file

Which = Literal["now", "baseline"]
RECHECK = "recheck"


def photos_of(held: Mapping[str, Any], which: Which) -> Document | None:
    """Return a set of photos with its marks, as the marking takes them; None where none is."""
    found = held.get(RECHECK, {}).get(which)
    return None if found is None else dict(found)


def begun(baseline: Baseline, side: str) -> Document:
    """Return the baseline's photos to mark in: with the marks that were kept, where there are."""
    if baseline.kept is not None:
        return as_marked(baseline.kept.marks, baseline.kept.photos)
    photos = [{"file": name, "x_sha256": digest} for name, digest in baseline.photos.items()]
    return {"side": side, "card": baseline.card, "photos": photos}


def keep(which: Which, edit: Callable[[Document | None], Document | None]) -> None:
    """Change one of the two sets of the open visit; None takes it away."""

    def edited(old: dict[str, Any]) -> dict[str, Any]:
        return old | {RECHECK: _with(old.get(RECHECK, {}), which, edit)}

    visit_draft.keep(edited)


def _with(
    both: Mapping[str, Any], which: Which, edit: Callable[[Document | None], Document | None]
) -> Document:
    new = edit(both.get(which))
    rest = {name: found for name, found in both.items() if name != which}
    return rest if new is None else rest | {which: new}


def add_photo(file: str, sha256: str, side: str) -> None:
    """Put one more of today's photos into the visit; its card is the draft's."""
    card = state.document().get("card")

    def edit(old: Document | None) -> Document:
        return with_photo(old or {"side": side, "card": card, "photos": []}, file, sha256)

    keep("now", edit)


def take_out(file: str) -> None:
    """Take one of today's photos out of the visit; it stays in the client's file."""

    def edit(old: Document | None) -> Document | None:
        new = without_photo(old or {"photos": []}, file)
        return new if new["photos"] else None

    keep("now", edit)


def take(client: str, side: str, which: Which, sha256: str, sent: Mapping[str, Any]) -> None:
    """Put what a marking sent into the visit for which it was made, whichever is open by now."""
    by = state.piercer()

    def edit(draft: Document) -> Document:
        held = visit_draft.held_in(draft)
        found = photos_of(held, which)
        if found is None or sha256 not in hashes(found).values():
            return draft
        new = _with(held[RECHECK], which, lambda _: with_sent(found, sha256, sent, by))
        return draft | {visit_draft.VISIT: held | {RECHECK: new}}

    if visit_draft.held_in(draft_of(client_file(), client, side)):
        change_draft(client_file(), client, side, edit, state.hand())
