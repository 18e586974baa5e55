"""What the Wording page says."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from assess.day_words import in_words
from assess.talk.rewording import fields, may_go
from rimspan.studio_words import Reworded

ABOUT = (
    "The client's sheet, the calendar file and the questions take these words from now on; what "
    "was saved before keeps those of its day. Every change stays in the file."
)
ONLY_MANAGERS = "A manager changes the words."
ALL_OWN = "Only the studio's own words"
DROPPED = "Left out of the sheet."
CAUTION = "caution: can be reworded, never left out"
TOO_LONG = (
    "with these words a full sheet takes more than two pages at the smallest type; shorten them"
)


def hint(name: str, built_in: str) -> str:
    """Return what a text must keep, for the field in which it is reworded; empty if nothing."""
    kept = " ".join(f"{{{field}}}" for field in sorted(fields(built_in)))
    lines = [f"Keep {kept} as it is: it is filled in." if kept else ""]
    lines += ["Empty, it is left out of the sheet." if may_go(name) else ""]
    return " ".join(line for line in lines if line)


def who(change: Reworded, zone: str) -> str:
    """Return who changed a text and when, by the studio's clock."""
    at = change.at.astimezone(ZoneInfo(zone)) if zone else change.at
    clock = "" if zone else " UTC"
    return f"{change.by}, {in_words(at)}, {at:%H:%M}{clock}"


def became(change: Reworded) -> str:
    """Return what a text became by a change."""
    if change.text is None:
        return "The built-in text again"
    return change.text or DROPPED
