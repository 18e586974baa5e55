"""What the pages say of what went in, of the photo right after, and of 'not here'."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from assess.day_words import in_words
from assess.insertion import Declined, Finding, NotHere
from assess.plan_words import AGAIN_WORDS, not_here_sentence
from assess.stock import StockItem
from rimspan.clientfile import Record
from rimspan.insertions import Sitting
from rimspan.not_here import not_here_of
from rimspan.screens.file_words import moment
from rimspan.screens.stock_words import ends_words, length_words
from rimspan.typed import shown

NOTHING_SIGNED = (
    "Nothing is signed that counts. What went in is recorded for an assessment that a named "
    "piercer signed."
)
NOTHING_IN_STOCK = "No post is in stock. Take posts in first: what goes in is chosen from there."
AFTER = (
    "Take a photo right after: post in, ear cleaned, from where the square-on one was taken. Later "
    "visits compare with it."
)
WHAT = {"in": "Went in", "declined": "Not pierced"}
WHOSE = {"client": "the client's", "piercer": "the piercer's"}
NOT_HERE = (
    "Where the rim doesn't support it, or you decide against it: what was found is kept, and "
    "stands on the client's sheet with the other places that you talked about."
)
FINDINGS: tuple[Finding, ...] = get_args(Finding)
AGAIN = "measure again: "
"""How the core's word begins for what asks to be measured again."""


def against_words(against: Sequence[str]) -> str:
    """Return what speaks against it, and what to do."""
    reasons: dict[str, str] = {AGAIN + name: words for name, words in AGAIN_WORDS.items()}
    again = [reasons[each] for each in against if each in reasons]
    posts = [f"post no. {each}" for each in against if each not in reasons]
    parts = [f"Measure again before anything goes in: {'; '.join(again)}."] if again else []
    parts += [f"Choose another: {'; '.join(posts)}."] if posts else []
    return f"{' '.join(parts)} Or say below why you go ahead all the same."


def placement_words(label: str, count: int) -> str:
    """Return what a placement is called."""
    return "The placement" if count == 1 else f"Placement {shown(label)}"


def piece_words(item: StockItem) -> str:
    """Return what is in: gauge, length, ends, material."""
    return (
        f"{item.style} {item.gauge_mm:g} mm, {length_words(item.length_mm)}; ends: "
        f"{ends_words(item)}; {shown(item.material)}, {shown(item.standard)}"
    )


def sitting_lines(sitting: Sitting) -> list[str]:
    """Return what happened at one sitting, a line each; what was typed in it is plain text."""
    held = sitting.insertion
    lines = [
        f"Placement {put.label}, in: {piece_words(sitting.items[put.stock_key])}; "
        f"lot {put.lot}, batch {put.batch}."
        for put in held.put_in
    ]
    lines += [_declined(each) for each in held.declined]
    lines += [
        f"Opened and not used: no. {each.stock_key}, lot {sitting.items[each.stock_key].lot} "
        f"({each.reason})."
        for each in held.opened_unused
    ]
    who = f"Pierced by {held.pierced_by}" if held.put_in else f"Seen by {held.pierced_by}"
    lines.append(f"{who}, {moment(held.at)}; recorded by {sitting.recorded_by}.")
    if held.in_spite_of:
        lines.append(f"In spite of: {', '.join(held.in_spite_of)}. Because: {held.because}.")
    if held.put_in:
        count = len(sitting.baseline)
        lines.append(
            "No photo right after was taken so far."
            if sitting.lacks_baseline
            else f"{'A photo' if count == 1 else f'{count} photos'} taken right after."
        )
    return lines


def _declined(each: Declined) -> str:
    return f"Placement {each.label}, not pierced ({WHOSE[each.by]} decision): {each.reason}."


def not_here_lines(record: Record) -> list[str]:
    """Return what was found where it isn't done, a line each."""
    kept = not_here_of(record)
    which = f"assessment no. {kept.revision}" if kept.revision else "no assessment was saved"
    lines = [
        f"Not here, {record.document['side']} ear ({which}).",
        not_here_sentence(kept),
        f"Decided by {kept.decided_by}, {in_words(kept.on)}.",
    ]
    return [*lines, f"Note: {kept.note}"] if kept.note else lines


def kept_words(kept: NotHere) -> str:
    """Return that it is kept."""
    return f"Kept: not here ({', '.join(kept.findings)})."
