"""A saved result's English sentences in another language, found again by how they are made.

A result keeps its sentences as they were confirmed, in English.  The catalogue ``report_CODE.po``
holds each of them with fields: ``{n...}`` is a number, ``{t...}`` something that is translated
itself, ``{x...}`` stays as it is.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from string import Formatter

from babel.messages.pofile import read_po

NUMBER = r"-?\d(?:[\d.,]*\d)?"
Say = Callable[[str], str]
KINDS = {"n": NUMBER, "t": ".+?", "x": ".+?"}
NEXT = re.compile(r"(?<=[.!?)]) (?=[A-Z(“])")
"""Where one sentence ends and the next begins."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """One entry: the English to be found, and what it becomes."""

    pattern: re.Pattern[str]
    becomes: str


@cache
def phrases(code: str) -> tuple[Phrase, ...]:
    """Return every phrase of a language: the whole ones first, then those that say the most."""
    with resources.files("rimspan.languages").joinpath(f"report_{code}.po").open("rb") as file:
        found = [(str(m.id), str(m.string)) for m in read_po(file, locale=code) if m.id]
    ordered = sorted(found, key=lambda pair: _openness(pair[0]))
    return tuple(Phrase(_pattern(english), other) for english, other in ordered)


def _openness(english: str) -> tuple[bool, int, int]:
    literals = sum(len(literal) for literal, *_ in Formatter().parse(english))
    return "{" in english, -literals, english.count("{x")


def _pattern(english: str) -> re.Pattern[str]:
    parts = []
    for literal, name, _, _ in Formatter().parse(english):
        parts.append(re.escape(literal))
        if name:
            parts.append(f"(?P<{name}>{KINDS[name[0]]})")
    return re.compile("".join(parts))


@dataclass
class Translator:
    """What is said in a language, and what could not be; English stays as it is."""

    code: str
    unknown: list[str] = field(default_factory=list)

    def say(self, text: str) -> str:
        """Return a text sentence by sentence; one that isn't known stays, and is noted."""
        if self.code == "en":
            return text
        return " ".join(self._sentence(each) for each in NEXT.split(text)) if text else ""

    def _sentence(self, english: str) -> str:
        said = _said(self.code, english)
        if said is None:
            self.unknown.append(english)
        return english if said is None else said


@cache
def _said(code: str, english: str) -> str | None:
    for phrase in phrases(code):
        match = phrase.pattern.fullmatch(english)
        filled = _fields(code, match.groupdict()) if match else None
        if filled is not None:
            return phrase.becomes.format(**filled)
    small = english[:1].lower() + english[1:]
    if small == english:
        return None
    said = _said(code, small)  # what begins a sentence stands small in the catalogue
    return None if said is None else said[:1].upper() + said[1:]


def _fields(code: str, held: dict[str, str]) -> dict[str, str] | None:
    filled = {}
    for name, english in held.items():
        said: str | None = english
        if name.startswith("n"):
            said = english.translate(str.maketrans(".,", ",."))
        elif name.startswith("t"):
            said = _said(code, english)
        if said is None:
            return None
        filled[name] = said
    return filled
