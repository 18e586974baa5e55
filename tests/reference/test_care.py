"""What the client is told, against published facts and those of the trade."""

from __future__ import annotations

import re

import pytest

from assess.talk.plan import HEALING, PlanRules
from assess.talk.sentences import LANGUAGES
from rimspan.languages import language

SODIUM_CHLORIDE_G_PER_MOL = 22.990 + 35.45
"""IUPAC's standard atomic weights of sodium and chlorine, from memory."""


@pytest.mark.published(
    source="clinical page on 0.9 % saline", where="0.9 % = 9 g/L = 154 mmol/L of Na and of Cl"
)
@pytest.mark.parametrize("code", LANGUAGES)
def test_the_spray_is_as_strong_as_saline(code: str) -> None:
    said = language(code).say("care.spray")
    percent = re.findall(r"(\d+[.,]\d+)\s%", said)
    assert len(percent) == 1
    grams_per_litre = 10 * float(percent[0].replace(",", "."))
    assert grams_per_litre == pytest.approx(9.0)
    # 154 is printed without a decimal: half of its last digit.
    assert 1000 * grams_per_litre / SODIUM_CHLORIDE_G_PER_MOL == pytest.approx(154, abs=0.5)


NHS_SIGNS = {
    "en": ("swelling", "redness that spreads", "heat", "pus", "fever"),
    "de": ("Schwellung", "Röte, die sich ausbreitet", "Hitze", "Eiter", "Fieber"),
}


@pytest.mark.published(
    source="NHS, infected piercings (reviewed April 2020)",
    where="signs; same-day help; the jewellery stays in unless a doctor says otherwise",
)
@pytest.mark.parametrize(
    ("code", "same_day", "leave", "unless"),
    [
        ("en", "the same day", "Leave the jewellery in", "unless a doctor"),
        ("de", "am selben Tag", "Lassen Sie den Schmuck drin", "außer ärztliches"),
    ],
)
def test_the_signs_of_infection_and_what_to_do(
    code: str, same_day: str, leave: str, unless: str
) -> None:
    words = language(code)
    signs, stays = words.say("care.signs"), words.say("care.stays")
    assert all(sign in signs for sign in NHS_SIGNS[code])
    assert same_day in signs
    assert leave in stays
    assert unless in stays


@pytest.mark.published(
    source="Brown et al., Epidemiol Infect 2025 (UKHSA)", where="onset 2 to 4 weeks after"
)
@pytest.mark.parametrize(("code", "weeks"), [("en", "two to four"), ("de", "zwei bis vier")])
def test_trouble_starts_weeks_later(code: str, weeks: str) -> None:
    assert weeks in language(code).say("care.onset")
    check = PlanRules().visits[0][1]
    assert (check.unit, check.low) == ("weeks", 2)
    assert check.high <= 4


@pytest.mark.practice("common practice, no source: 8 to 12 weeks for some, 3 to 6 months for some")
def test_the_trade_s_ranges_of_healing() -> None:
    assert [(r.low, r.high, r.unit) for r in HEALING if r.basis.kind == "practice"] == [
        (8, 12, "weeks"),
        (3, 6, "months"),
    ]


@pytest.mark.published(source="Family Practice Notebook", where="“lobe or auricle”: 6 to 8 weeks")
@pytest.mark.memory(source="Meltzer, American Family Physician, 2005: 4 months to 1 year")
def test_published_ranges_of_healing_stand_beside_them() -> None:
    assert [(r.low, r.high, r.unit) for r in HEALING if r.basis.kind == "published"] == [
        (6, 8, "weeks")
    ]
    assert [(r.low, r.high, r.unit) for r in HEALING if r.basis.kind == "memory"] == [
        (4, 12, "months")
    ]


@pytest.mark.practice("common practice, no source: a shorter post after 4 to 6 weeks")
def test_the_shorter_post() -> None:
    span = PlanRules().downsizing
    assert (span.low, span.high, span.unit) == (4, 6, "weeks")


@pytest.mark.practice("common practice, no source: left still, although health pages differ")
@pytest.mark.parametrize(("code", "no"), [("en", "Do not turn it"), ("de", "Drehen Sie nicht")])
def test_jewellery_is_not_turned(code: str, no: str) -> None:
    assert no in language(code).say("care.still")


@pytest.mark.practice("common practice, no source: what may touch the water, and what may not")
@pytest.mark.parametrize(
    ("code", "fine", "not_fine"),
    [
        ("en", "own clean bath is fine", ("Pools", "lakes", "sea")),
        ("de", "eigene saubere Wanne ist in Ordnung", ("Schwimmbecken", "Seen", "Meer")),
    ],
)
def test_whose_water(code: str, fine: str, not_fine: tuple[str, ...]) -> None:
    said = language(code).say("care.water")
    assert fine in said
    assert all(word in said for word in not_fine)
