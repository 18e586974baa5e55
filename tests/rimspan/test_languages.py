"""Two languages, both complete, both as careful."""

from __future__ import annotations

import re
from datetime import date, time
from importlib import resources

import pytest
from babel.messages.catalog import Catalog

from assess.talk.care import CAUTIONS
from assess.talk.catalogue import texts
from assess.talk.rewording import WordingError, advises_taking_out, fields
from assess.talk.sentences import LANGUAGES
from rimspan.languages import catalogue, language, translated
from rimspan.languages.bring_up_to_date import up_to_date

OTHERS = LANGUAGES[1:]
ALIKE = {
    "ask.allergy.latex",
    "ask.health.diabetes",
    "decided.material",
    "decided.time",
    "label.piercer",
}
"""Texts that are the same in both languages; any other that is hasn't been translated."""


@pytest.mark.parametrize("code", OTHERS)
def test_every_text_is_translated_and_nothing_else_is(code: str) -> None:
    found = catalogue(code)
    assert {message.context for message in found if message.id} == set(texts())
    done = translated(found)
    assert set(done) == set(texts())
    for name, english in texts().items():
        assert fields(done[name]) == fields(english), name
    assert {name for name, english in texts().items() if done[name] == english} == ALIKE


@pytest.mark.parametrize("code", OTHERS)
def test_the_catalogue_is_up_to_date(code: str) -> None:
    """Else: python -m rimspan.languages.bring_up_to_date, and translate what it left open."""
    held = resources.files("rimspan.languages").joinpath(f"{code}.po").read_bytes()
    assert up_to_date(catalogue(code), code) == held


@pytest.mark.parametrize("code", LANGUAGES)
def test_no_text_advises_to_take_jewellery_out(code: str) -> None:
    for name, text in language(code).texts.items():
        assert not advises_taking_out(text, code), (name, text)


@pytest.mark.parametrize("code", LANGUAGES)
def test_every_caution_says_what_it_must(code: str) -> None:
    for caution in CAUTIONS:
        for pattern in caution.keeps[code]:
            said = language(code).texts[caution.id]
            assert re.search(pattern, said, re.IGNORECASE), (caution.id, pattern)


def test_a_sentence_that_changed_has_no_translation() -> None:
    found = Catalog(locale="de")
    for name, english in texts().items():
        found.add(english if name != "care.pets" else "Keep dogs away.", "Wort", context=name)
    with pytest.raises(ValueError, match=r"care\.pets must be translated"):
        translated(found)


def test_bringing_up_to_date_marks_what_changed() -> None:
    old = Catalog(locale="de")
    for name, english in texts().items():
        if name != "care.hair":
            old.add(english if name != "care.pets" else "Keep dogs away.", "Wort", context=name)
    new = up_to_date(old, "de").decode()
    assert new.count("#, fuzzy") == 1
    assert re.search(r'#, fuzzy\nmsgctxt "care\.pets"\nmsgid "Keep pets', new)
    assert re.search(r'msgctxt "care\.hair"\nmsgid "Free your hair[^"]*"\nmsgstr ""\n', new)


def test_a_studio_s_words_are_taken_in_their_language() -> None:
    said = language("de", {"care.pets": "Kein Hund, keine Katze."})
    assert said.say("care.pets") == "Kein Hund, keine Katze."
    assert language("de").say("care.pets") != said.say("care.pets")
    with pytest.raises(WordingError, match="can't be removed"):
        language("de", {"care.stays": ""})


def test_a_language_that_is_none_is_a_bug() -> None:
    with pytest.raises(ValueError, match="must be one of en, de"):
        language("xx")


@pytest.mark.memory(
    source="Unicode CLDR: long dates, short times and decimal signs of en-GB, de-DE"
)
def test_days_and_numbers_are_written_as_the_language_does() -> None:
    english, german = language("en"), language("de")
    assert english.day(date(2026, 5, 2)) == "2 May 2026"
    assert german.day(date(2026, 5, 2)) == "2. Mai 2026"
    assert english.clock(time(14, 30)) == german.clock(time(14, 30)) == "14:30"
    assert english.number(7.03, 0.42) == "7.0"
    assert german.number(7.03, 0.42) == "7,0"
    assert german.number(10.31875) == "10,32"
    assert german.number(1.2) == "1,2"
    assert english.number(7.4, 3.0) == "7"
