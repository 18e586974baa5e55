"""A studio's own words: cautions can be reworded and not removed."""

from __future__ import annotations

import pytest

from assess.errors import AssessError
from assess.talk.care import CAUTIONS, SENTENCES
from assess.talk.catalogue import texts
from assess.talk.rewording import LONGEST, WordingError, advises_taking_out, fields, reworded

BASE = texts()

OWN_WORDS = {
    "care.decides": "It's the piercer who decides. No number can prove that it heals, and nothing "
    "here is medical advice.",
    "care.downsize": "After {low} to {high} weeks your piercer swaps the post for a shorter one.",
    "care.swollen": "Swelling left? Then that happens later.",
    "care.healing": "8 to 12 weeks for the lucky, 3 to 6 months for many, up to a year. We promise "
    "no date.",
    "care.spray": "Twice daily: sterile spray, nothing but water and 0.9 % sodium chloride.",
    "care.hands": "Clean hands only.",
    "care.mouth": "No kisses on it, no one's fluids.",
    "care.water": "No pool, no lake, no sea.",
    "care.still": "Hands off: don't turn it, let it be still.",
    "care.signs": "Red skin that spreads, heat, swelling, pus, fever? See a doctor today.",
    "care.sinks": "Disc sinking in? To a doctor today.",
    "care.stays": "Keep the jewellery in until a doctor says otherwise.",
}
"""One way to say each caution in other words."""


def refused(name: str, text: str, language: str = "en") -> str:
    with pytest.raises(WordingError) as refusal:
        reworded(BASE, {name: text}, language)
    return str(refusal.value)


def test_there_is_an_own_wording_for_every_caution() -> None:
    assert set(OWN_WORDS) == {caution.id for caution in CAUTIONS}


def test_cautions_can_be_said_in_other_words() -> None:
    changed = reworded(BASE, OWN_WORDS)
    assert {name: changed[name] for name in OWN_WORDS} == OWN_WORDS
    assert {n: t for n, t in changed.items() if n not in OWN_WORDS} == {
        n: t for n, t in BASE.items() if n not in OWN_WORDS
    }


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", sorted(OWN_WORDS))
@pytest.mark.parametrize("text", ["", "   ", "\n", "\u00a0"])
def test_a_caution_is_not_removed(name: str, text: str, language: str) -> None:
    assert "can't be removed" in refused(name, text, language)


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", sorted(OWN_WORDS))
@pytest.mark.parametrize("text", [".", "-", "Ask us.", "Fragen Sie uns."])
def test_nor_is_it_emptied_of_what_it_says(name: str, text: str, language: str) -> None:
    assert "no longer says what it must" in refused(name, text, language)


@pytest.mark.parametrize(
    ("name", "text", "lost"),
    [
        ("care.signs", "Redness, heat, swelling, pus, fever: see a doctor.", "same day"),
        ("care.signs", "Redness, heat, swelling, pus: see a doctor today.", "fever"),
        ("care.stays", "Leave the jewellery in.", "unless"),
        ("care.stays", "Leave the jewellery in unless it hurts.", "doctor"),
        ("care.spray", "Use a sterile spray of water and 0.9 % sodium chloride.", "only"),
        ("care.water", "No pools and no lakes.", "sea"),
        ("care.healing", "8 to 12 weeks, or 3 to 6 months, or a year.", "promise"),
    ],
)
def test_what_must_stay_is_named(name: str, text: str, lost: str) -> None:
    assert lost in refused(name, text)


def test_advice_that_is_no_caution_can_go() -> None:
    for sentence in SENTENCES:
        if not sentence.caution:
            assert reworded(BASE, {sentence.id: ""})[sentence.id] == ""


@pytest.mark.parametrize("name", ["label.client", "decided.waits", "ask.trip", "consent.no_age"])
def test_headings_questions_and_refusals_stay(name: str) -> None:
    assert "can't be removed" in refused(name, "")


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "Take it out if it does not get better."),
        ("en", "If there is pus, take the jewellery out"),
        ("en", "Remove the post and see a doctor."),
        ("en", "Remove it unless a doctor says no."),
        ("en", "Clean it, then unscrew the ends."),
        ("en", "Leave it out overnight."),
        ("en", "Pull the stud right out!"),
        ("en", "Taking the piercing out helps."),
        ("de", "Nehmen Sie ihn heraus, wenn es nicht besser wird."),
        ("de", "Bei Eiter den Schmuck herausnehmen."),
        ("de", "Entfernen Sie den Stab."),
        ("de", "Lassen Sie den Schmuck entfernen."),
        ("de", "Schrauben Sie die Enden ab."),
        ("de", "Den Schmuck rausnehmen und kühlen"),
    ],
)
def test_advice_to_take_it_out_is_found_and_refused(language: str, text: str) -> None:
    assert advises_taking_out(text, language)
    assert "take jewellery out" in refused("care.normal", text, language)


@pytest.mark.parametrize(
    ("language", "text"),
    [
        ("en", "Leave the jewellery in unless a doctor or nurse tells you otherwise."),
        ("en", "Do not take it out."),
        ("en", "Never remove the post yourself."),
        ("en", "Keep pets away from it."),
        ("en", "Wash soap out of your hair."),
        ("de", "Nehmen Sie ihn nicht heraus."),
        ("de", "Den Schmuck nie herausnehmen."),
        ("de", "Lassen Sie den Schmuck drin."),
        ("de", "So geht Seife heraus."),
    ],
)
def test_advice_to_leave_it_in_is_none(language: str, text: str) -> None:
    assert not advises_taking_out(text, language)


def test_fields_are_kept() -> None:
    assert "its fields are" in refused("care.downsize", "The piercer does it in some weeks.")
    assert "its fields are" in refused("care.normal", "Fluid from {client} is normal.")
    for text in ("A {brace", "A } brace", "{0}", "{low!r} {high} weeks, piercer", "{a.b}"):
        assert "a brace stands alone" in refused("care.downsize", text)
    assert fields("{low} to {high}, {low}") == {"low", "high"}


def test_too_long_and_unknown_are_refused() -> None:
    assert f"{LONGEST} at most" in refused("care.normal", "clear " * 100)
    assert "no such text" in refused("care.nothing", "Words.")


def test_a_refusal_names_every_fault_and_is_bad_input() -> None:
    with pytest.raises(WordingError) as refusal:
        reworded(BASE, {"care.signs": "", "care.stays": "", "care.pets": ""})
    assert len(refusal.value.faults) == 2
    assert isinstance(refusal.value, AssessError)
    assert refusal.value.exit_status == 2
