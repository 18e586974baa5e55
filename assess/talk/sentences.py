"""A sentence as data: what is said, why, and how far that is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Kind = Literal["practice", "published", "second_hand", "memory", "own"]

LANGUAGES = ("en", "de")
"""English stands in the data itself; every other language is a complete catalogue."""


@dataclass(frozen=True, slots=True)
class Basis:
    """How far a sentence is known: its kind, and the source where there is one."""

    kind: Kind
    source: str

    def __str__(self) -> str:
        """Return the mark as it is printed beside the sentence."""
        return {
            "practice": self.source,
            "published": f"published: {self.source}",
            "second_hand": f"published, seen second-hand: {self.source}",
            "memory": f"published, from memory: {self.source}",
            "own": self.source,
        }[self.kind]


PRACTICE = Basis("practice", "common practice, no source")
OWN = Basis("own", "this program's own rule")
ASSUMED = Basis("own", "this program's assumption, for the studio to set")


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence that a person reads.

    A studio may change its words.  A caution may be reworded and not removed: ``keeps`` holds,
    for each language, patterns that must all still be found in what it became.
    """

    id: str
    text: str
    why: str
    basis: Basis = PRACTICE
    caution: bool = False
    keeps: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.caution and any(not self.keeps.get(language) for language in LANGUAGES):
            raise ValueError(f"'keeps' must say in each language what stays (got {self.id})")


def caution(
    id: str,
    text: str,
    why: str,
    basis: Basis = PRACTICE,
    *,
    en: tuple[str, ...],
    de: tuple[str, ...],
) -> Sentence:
    """Return a sentence that can be reworded and not removed, with what must stay in it."""
    return Sentence(id, text, why, basis, True, {"en": en, "de": de})
