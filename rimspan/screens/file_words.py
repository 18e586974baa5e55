"""What the screens say of a client's file: consents, what was done, who did it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from assess.day_words import in_words
from rimspan.clientfile import Consent, Revision, Void
from rimspan.clientfile.records import Event
from rimspan.screens.store import client_file
from rimspan.studio_clock import here
from rimspan.typed import in_markdown

WALK_IN = (
    "What comes of a walk-in can't be read any more once the program has ended, unless somebody "
    "keeps the client under a name or a sign."
)
NOT_KEPT = "Walk-in, not kept"
EXPORT = (
    "Everything that is kept of this client, for a client who asks for it: photos, drafts, saved "
    "assessments, consents, what was done. The ZIP is not sealed: whoever has it can read it."
)
ERASE = (
    "Erasing destroys this client's key, for good: photos, drafts and assessments can't be read by "
    "anybody any more. A random number and the moment stay. Backups made before still hold the "
    "key, and what was handed out or printed stays where it is. Local law may ask for keeping."
)
WITHDRAWN = (
    "No further photo is kept. Those that are here stay until they are moved or the client is "
    "erased."
)
MOVE = (
    "It is moved to the right client, without its marks; whence it came, by whom and why stands "
    "beside it. A revision measured in it must be void first."
)

_KINDS = {
    "client": "client created",
    "name": "name or note kept",
    "photo": "photo kept",
    "move": "photo moved to another client",
    "consent": "consent to photos noted",
    "revision": "assessment saved",
    "void": "assessment made void",
    "record": "record kept",
    "erased": "erased",
}


def client_name(name: str) -> str:
    """Return a client's name; a walk-in has none."""
    return name or NOT_KEPT


def moment(at: datetime) -> str:
    """Return a moment by the studio's clock."""
    there = here(client_file(), at)
    return f"{in_words(there)}, {there:%H:%M}"


def consent_words(consents: Sequence[Consent]) -> str:
    """Return whether photos may be kept, as the client said last."""
    if not consents:
        return "The client wasn't asked yet whether photos may be kept."
    last = consents[-1]
    word = "gave the consent to photos" if last.given else "withdrew the consent to photos"
    return f"The client {word} on {moment(last.at)}; noted by {in_markdown(last.by)}."


def consent_row(consent: Consent) -> dict[str, str]:
    """Return one word of the client's as a row."""
    said = "given" if consent.given else "withdrawn"
    return {
        "When": moment(consent.at),
        "Consent": said,
        "By": in_markdown(consent.by),
        "Note": in_markdown(consent.note),
    }


def void_words(void: Void) -> str:
    """Return that a revision doesn't count, since when, and why."""
    return f"Void since {moment(void.at)}, by {void.by}: {void.reason}"


def who_words(revision: Revision, put_in_by: Iterable[str] = ()) -> list[str]:
    """Return who measured, decided and pierced, a line each.

    Parameters
    ----------
    put_in_by : who pierced by what was recorded at the chair: that is what happened
    """
    recorded = ", ".join(dict.fromkeys(put_in_by))
    pierced = recorded or revision.pierced_by or "not noted"
    return [
        f"Measured by {revision.measured_by}",
        f"Decided by {revision.decided_by}",
        f"Pierced by: {pierced}",
    ]


def event_row(event: Event, numbers: Mapping[str, str]) -> dict[str, str]:
    """Return what was done as a row.

    Parameters
    ----------
    numbers : the running number of each revision, by its id
    """
    detail = event.detail
    what = _KINDS.get(event.kind, event.kind)
    if event.record in numbers:
        what = f"{what}: no. {numbers[event.record]}"
    if "kind" in detail:
        kind = str(detail["kind"]).replace("_", " ")
        what = f"{what}: {kind}, no. {detail.get('number', '')}"
    by = [str(detail[key]) for key in ("by", "decided_by") if detail.get(key)]
    if detail.get("measured_by"):
        by.append(f"measured by {detail['measured_by']}")
    return {"When": moment(event.at), "What": what, "By": in_markdown(", ".join(by) or "not noted")}
