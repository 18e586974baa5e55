"""A studio's own words: anything can be reworded, cautions can't be removed.

The patterns that a caution has to keep, and those that find advice to take jewellery out, know
words and not meanings.  They catch what is left out or turned round by mistake; somebody who
wants to get past them can.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from string import Formatter

from assess.errors import AssessError, Fault
from assess.talk.care import SENTENCES
from assess.talk.catalogue import sentences, texts

LONGEST = 400
"""Signs of one text: more would push a caution off the sheet."""

_SPLIT = r"[.!?;:,]+\s*|\b(?:and|but|if|when|until|aber|bis|falls|sobald|sondern|und|wenn)\b"
_VERB = (
    r"(?:take|takes|taking|took|taken|pull|pulls|pulling|get|leave|slide|slip|screw|lift"
    r"|remov\w*|unscrew\w*)"
)
_TAKES_OUT = {
    "en": rf"\b{_VERB}\b.*\b(out|off|away)\b|\b(remov\w*|unscrew\w*)\b|\bcomes? out\b",
    "de": (
        r"\b(heraus|raus|ab)(zu)?(nehm|nimm|genommen|nähm|zieh|gezogen|hol|geholt|dreh|gedreh|leg"
        r"|gelegt|schraub|geschraub)\w*"
        r"|\b(nehm|nimm|zieh|hol|dreh|leg|schraub)\w*\b.*\b(heraus|raus|ab)\b"
        r"|\b(entfern|abschraub)\w*"
    ),
}
_NOT_SO = {
    "en": rf"(\bnot|\bnever|n't)\s+(ever\s+|try\s+to\s+)?{_VERB}\b",
    "de": r"\b(nicht|nie|niemals)\b",
}
_JEWELLERY = {
    "en": r"\b(jewel\w*|posts?|ends?|discs?|piercing|it|bar|stud|ring)\b",
    "de": r"\b(schmuck\w*|stab|enden?|scheibe|piercing|es|ihn|stecker|ring)\b",
}


class WordingError(AssessError):
    """A studio's wording is refused: a line for each fault."""


def advises_taking_out(text: str, language: str) -> bool:
    """Return whether a clause tells somebody to take jewellery out."""
    clauses = re.split(_SPLIT, text, flags=re.IGNORECASE)
    return any(
        re.search(_TAKES_OUT[language], clause, re.IGNORECASE)
        and re.search(_JEWELLERY[language], clause, re.IGNORECASE)
        and not re.search(_NOT_SO[language], clause, re.IGNORECASE)
        for clause in clauses
    )


def reworded(
    base: Mapping[str, str], changes: Mapping[str, str], language: str = "en"
) -> dict[str, str]:
    """Return the texts of a language with a studio's words in them.

    Advice for the client's sheet that is no caution is dropped by an empty text.

    Raises
    ------
    WordingError
        If a caution would go or would no longer say what it must, if jewellery would be taken
        out, or if a text is unknown, too long, or lacks a field that is filled in.
    """
    faults = [f for name, text in changes.items() for f in _faults(name, text, language)]
    if faults:
        raise WordingError(faults)
    return {**base, **{name: text.strip() for name, text in changes.items()}}


def standing(changes: Mapping[str, str], language: str = "en") -> dict[str, str]:
    """Return those of a studio's words that aren't refused.

    What was kept once may be refused by a later version: the built-in text stands there then.
    """
    return {name: text for name, text in changes.items() if not _faults(name, text, language)}


def faults(name: str, text: str, language: str = "en") -> list[Fault]:
    """Return why a studio's words for a text are refused; nothing where they aren't."""
    return _faults(name, text, language)


def _faults(name: str, text: str, language: str) -> list[Fault]:
    where = f"wording {name}"
    if name not in texts():
        return [Fault(where, "there is no such text", "look up its name in docs/talk.md")]
    found = [*_caution_faults(name, text, language), *_field_faults(name, text)]
    if advises_taking_out(text, language):
        what = "it tells the client to take jewellery out"
        found.append(Fault(where, what, "leave that to licensed care"))
    if len(text) > LONGEST:
        what = f"it has {len(text)} signs"
        found.append(Fault(where, what, f"use {LONGEST} at most, so that it fits the sheet"))
    return found


def _caution_faults(name: str, text: str, language: str) -> list[Fault]:
    sentence = sentences().get(name)
    where = f"wording {name}"
    if not text.strip():
        return [] if may_go(name) else [Fault(where, *_MUST_STAY)]
    if sentence is None or not sentence.caution:
        return []
    lost = [kept for kept in sentence.keeps[language] if not re.search(kept, text, re.IGNORECASE)]
    words = "; ".join(_readable(kept) for kept in lost)
    what = f"the caution no longer says what it must: {words}"
    return [Fault(where, what, "put that back in, in your own words")] if lost else []


def may_go(name: str) -> bool:
    """Return whether a text may be left out: advice for at home that is no caution."""
    return any(sentence.id == name and not sentence.caution for sentence in SENTENCES)


_MUST_STAY = "a caution, a heading or a rule can't be removed", "reword it instead"


def _readable(pattern: str) -> str:
    return re.sub(r"\\b|[()?]", "", pattern).replace("\\.", ".").replace(".*", " … ")


def _field_faults(name: str, text: str) -> list[Fault]:
    where, wanted = f"wording {name}", fields(texts()[name])
    try:
        given = fields(text)
    except ValueError:
        return [Fault(where, "a brace stands alone", "write fields as {name}, and no other brace")]
    if not text.strip() or given == wanted:
        return []
    what = f"its fields are {sorted(given)} and must be {sorted(wanted)}"
    return [Fault(where, what, "keep each field once or more, and add none")]


def fields(text: str) -> frozenset[str]:
    """Return the names of the fields that are filled in.

    Raises
    ------
    ValueError
        If a brace stands alone, or a field is more than a name.
    """
    found = set()
    for _, name, form, conversion in Formatter().parse(text):
        if name is None:
            continue
        if not name.isidentifier() or form or conversion:
            raise ValueError(f"a field must be a name alone (got {name!r})")
        found.add(name)
    return frozenset(found)
