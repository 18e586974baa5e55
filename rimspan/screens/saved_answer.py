"""Whether the answer that is open is the one that a piercer confirmed and saved."""

from __future__ import annotations

from assess.day_words import in_words
from rimspan.assessment import Assessment
from rimspan.clientfile import NewRevision, Revision, canonical
from rimspan.screens.store import client_file
from rimspan.studio_clock import day_of

ANEW = (
    "Limits, known repeats or the program changed since: what stands here is measured anew, and "
    "isn't confirmed."
)


def saved_as(revision: Revision | None, found: Assessment) -> Revision | None:
    """Return the revision if an answer was saved as it, or None; a void one doesn't count.

    It is that one where all that it is measured from is the same: marks, photos, limits, program.
    What was said or ticked after saving is of the talk, and changes no answer.
    """
    if revision is None or revision.void is not None:
        return None
    return revision if _from(found) == _from(revision.saved) else None


def _from(measured: Assessment | NewRevision) -> bytes:
    names = ("marks", "photos", "criteria", "software")
    return canonical({name: getattr(measured, name) for name in names})


def words(revision: Revision | None, *, same: bool) -> str:
    """Return whether the answer is saved, by whom and when it was confirmed.

    Parameters
    ----------
    revision : what the draft was saved as
    same : whether the answer is still that one
    """
    if revision is None:
        return "Not saved so far: nobody confirmed it."
    if revision.void is not None:
        return f"Revision {revision.number} is void: what stands here isn't confirmed."
    who, on = revision.decided_by, in_words(day_of(client_file(), revision.created_at))
    said = f"Saved as revision {revision.number}, confirmed by {who} on {on}."
    return said if same else f"{said} {ANEW}"
