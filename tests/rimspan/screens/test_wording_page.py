"""The Wording page: a studio's words beside the built-in ones, kept with who and when."""

from __future__ import annotations

from typing import Any

from assess.talk.catalogue import texts
from rimspan.clientfile import Role
from rimspan.studio_words import own_words
from tests.rimspan.screens.conftest import ALEX

AT_HOME = "The client's sheet: at home"


def opened(visit: Any, name: str) -> Any:
    """Open the page at the texts for at home, and the field for one of them."""
    visit.open("wording")
    visit.at.selectbox(key="wording group").set_value(AT_HOME)
    visit.run()
    visit.at.button(key=f"change en {name}").click()
    return visit.run()


def write(visit: Any, name: str, text: str) -> Any:
    visit.at.text_area(key=f"words en {name}").set_value(text)
    return visit.press("Keep these words")


def test_a_manager_puts_words_in_place_and_takes_them_back(visit: Any) -> None:
    opened(visit, "care.pets")
    assert visit.at.text_area(key="words en care.pets").value == texts()["care.pets"]
    write(visit, "care.pets", "No pets near it.")
    assert own_words(visit.file, "en") == {"care.pets": "No pets near it."}
    assert "No pets near it." in visit.words
    assert texts()["care.pets"] in visit.words  # the built-in text stays beside it
    assert f"{ALEX}, " in visit.words  # who, and when
    visit.at.button(key="change en care.pets").click()
    visit.run()
    visit.press("Back to the built-in text")
    assert own_words(visit.file, "en") == {}
    assert "The built-in text stands again." in visit.words
    assert "Changed 2 times" in visit.words


def test_a_caution_can_be_reworded_and_not_left_out(visit: Any) -> None:
    opened(visit, "care.stays")
    write(visit, "care.stays", "")
    assert "Nothing was changed. A caution, a heading or a rule can't be removed" in visit.words
    write(visit, "care.stays", "Keep it clean.")
    assert "Nothing was changed. The caution no longer says what it must" in visit.words
    assert visit.at.text_area(key="words en care.stays").value == "Keep it clean."  # what was typed
    assert own_words(visit.file, "en") == {}
    write(visit, "care.stays", "Keep the jewellery in unless a doctor or nurse says otherwise.")
    assert list(own_words(visit.file, "en")) == ["care.stays"]


def test_advice_can_be_left_out_and_says_so(visit: Any) -> None:
    opened(visit, "care.pets")
    write(visit, "care.pets", "")
    assert own_words(visit.file, "en") == {"care.pets": ""}
    assert "Left out of the sheet." in visit.words


def test_a_piercer_reads_and_changes_nothing(visit: Any) -> None:
    visit.signs_in("Pia Invented", Role.PIERCER)
    visit.open("wording")
    assert "A manager changes the words." in visit.words
    assert not [b for b in visit.at.button if b.label.startswith("Change")]


def test_the_german_words_are_changed_by_themselves(visit: Any) -> None:
    visit.open("wording")
    visit.at.button_group(key="wording language").set_value("de")
    visit.at.selectbox(key="wording group").set_value("Only the studio's own words")
    visit.run()
    assert "No text of this language has words of the studio's." in visit.words
    visit.at.selectbox(key="wording group").set_value(AT_HOME)
    visit.run()
    visit.at.button(key="change de care.pets").click()
    visit.run()
    visit.at.text_area(key="words de care.pets").set_value("Keine Katze, kein Hund.")
    visit.press("Keep these words")
    assert own_words(visit.file, "de") == {"care.pets": "Keine Katze, kein Hund."}
    assert own_words(visit.file, "en") == {}
