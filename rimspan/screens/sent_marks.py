"""What the marking sends, taken into the draft once, however often and late it comes.

Beside a photo's marks the draft keeps which documents came from which hand (a hand is one mount
of the marking in one browser), and the steps that can be undone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from rimspan.screens.document import RUNNING, Document, entry, hashes, with_marks

HEARD, LAST, UNDO = "x_heard", "x_last", "x_undo"

DRAWN = ("outer_rim", "inner_rim", "head_up", "ties", "placements")

HANDS = 12
"""Hands remembered for a photo; a page that sends again after so many others is long gone."""


def held_of(found: Mapping[str, Any]) -> Document:
    """Return what the marking needs to know of a photo's part of the draft beside its marks."""
    return {
        "heard": dict(found.get(HEARD, {})),
        "last": found.get(LAST),
        "undo": found.get(UNDO, {"past": [], "future": []}),
    }


def is_new(found: Mapping[str, Any], sent: Mapping[str, Any]) -> bool:
    """Return whether a photo's part of the draft doesn't know a document of the marking yet."""
    return int(sent["n"]) > int(found.get(HEARD, {}).get(sent["hand"], 0))


def is_overtaken(found: Mapping[str, Any], sent: Mapping[str, Any]) -> bool:
    """Return whether another hand's marks stand in a photo that this hand has never seen.

    They would be gone for good: what a hand has seen stands among the steps that it can undo.
    """
    last = found.get(LAST)
    if last is None or last == sent["hand"] or RUNNING in found or RUNNING in sent["marks"]:
        return False
    there = _drawn(found)
    steps = [step["marks"] for name in ("past", "future") for step in sent["undo"][name]]
    return bool(there) and there not in [_drawn(marks) for marks in (sent["marks"], *steps)]


def _drawn(marks: Mapping[str, Any]) -> Document:
    return {name: marks[name] for name in DRAWN if marks.get(name)}


def with_sent(
    document: Mapping[str, Any], sha256: str, sent: Mapping[str, Any], by: str = ""
) -> Document:
    """Return the draft with a document of the marking in it, or as it was if it knows that one.

    Parameters
    ----------
    sha256 : of the photo that was marked
    sent : what the marking returned
    by : who is at work
    """
    file = next((name for name, digest in hashes(document).items() if digest == sha256), None)
    if file is None:  # the photo was taken out meanwhile
        return dict(document)
    kept = entry(document, file)
    if not is_new(kept, sent):
        return dict(document)
    hand = sent["hand"]
    others = {name: n for name, n in kept.get(HEARD, {}).items() if name != hand}
    heard = dict([*others.items(), (hand, sent["n"])][-HANDS:])
    if is_overtaken(kept, sent):  # heard, so that it isn't sent again, and not taken
        return _with_photos(
            document, lambda photo: photo | {HEARD: heard} if photo["file"] == file else photo
        )
    beside = {HEARD: heard, LAST: hand, UNDO: sent["undo"]}
    # These are no part of the assessment: they leave its token as it is.
    new = with_marks(document, file, sent["marks"], by)
    return _with_photos(new, lambda photo: photo | beside if photo["file"] == file else photo)


def without_undo(document: Mapping[str, Any]) -> Document:
    """Return the draft without the steps that can be undone."""
    return _with_photos(
        document, lambda photo: {name: kept for name, kept in photo.items() if name != UNDO}
    )


def _with_photos(document: Mapping[str, Any], edit: Callable[[Document], Document]) -> Document:
    return {**document, "photos": [edit(photo) for photo in document["photos"]]}
