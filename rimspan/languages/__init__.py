"""The languages of sheets and questions: gettext catalogues, read by Babel.

English stands in ``assess.talk``; each other language is one ``.po`` file here, whose entries
are named by their context and hold the English that they translate, so that a sentence that
changed is seen to lack its translation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, time
from functools import cache
from importlib import resources

from babel import Locale
from babel.dates import format_date, format_time
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

from assess.talk.catalogue import texts
from assess.talk.rewording import reworded
from assess.talk.sentences import LANGUAGES
from assess.wording import decimals

LOCALES = {"en": "en_GB", "de": "de_DE"}
"""Whose dates and decimal signs a language takes."""


@dataclass(frozen=True, slots=True)
class Language:
    """The texts of one language, with a studio's own words in them."""

    code: str
    texts: Mapping[str, str]
    own: Mapping[str, str] = field(default_factory=dict)
    """The studio's own words alone."""

    @property
    def locale(self) -> Locale:
        """Return whose dates and numbers these are."""
        return Locale.parse(LOCALES[self.code])

    def say(self, name: str, /, **fields: str) -> str:
        """Return a text with its fields filled in; empty where the studio dropped it."""
        said = self.texts[name]
        return said.format(**fields) if fields else said

    def day(self, day: date) -> str:
        """Return a day in words and figures."""
        return format_date(day, "long", locale=self.locale)

    def clock(self, at: time) -> str:
        """Return a time of day."""
        return format_time(at, "short", locale=self.locale)

    def number(self, value: float, u: float | None = None) -> str:
        """Return a number with this language's decimal sign, and no more digits than u supports."""
        places = 2 if u is None else decimals(u)
        pattern = "0." + ("#" if u is None else "0") * places if places else "0"
        # Rounded as the report rounds: 9.525 is 9.53 on both.
        return format_decimal(float(f"{value:.{places}f}"), pattern, locale=self.locale)


def language(code: str, changes: Mapping[str, str] | None = None) -> Language:
    """Return a language, with the words that a studio put in place of ours.

    Raises
    ------
    ValueError
        If there is no such language.
    WordingError
        If a studio's word is refused: see :func:`assess.talk.rewording.reworded`.
    """
    if code not in LANGUAGES:
        raise ValueError(f"'code' must be one of {', '.join(LANGUAGES)} (got {code!r})")
    own = dict(changes or {})
    return Language(code, reworded(built_in(code), own, code), own)


@cache
def built_in(code: str) -> Mapping[str, str]:
    """Return every text of a language as this program has it."""
    return texts() if code == "en" else translated(catalogue(code))


def catalogue(code: str) -> Catalog:
    """Return the catalogue of a language that isn't English."""
    with resources.files("rimspan.languages").joinpath(f"{code}.po").open("rb") as file:
        return read_po(file, locale=code, domain="rimspan")


def translated(found: Catalog) -> dict[str, str]:
    """Return the translations of a catalogue by name.

    Raises
    ------
    ValueError
        If one is missing, unsure, or of an English text that reads differently by now.
    """
    wanted, done = texts(), {}
    for name, english in wanted.items():
        message = found.get(english, context=name)
        if message is None or message.fuzzy or not message.string:
            raise ValueError(f"{name} must be translated to {found.locale} (got nothing)")
        done[name] = str(message.string)
    return done
