"""Age and consent: what isn't seen isn't met."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from assess.talk.consent import (
    CONSENT,
    GUARDIAN_UNKNOWN,
    NO_AGE,
    NO_GUARDIAN,
    NO_IDENTITY,
    NO_PHOTO_CONSENT,
    TOO_YOUNG,
    AgeFacts,
    AgeRules,
    age_years,
    unmet,
)

RULES = AgeRules(least_years=16, adult_from_years=18)
ADULT = AgeFacts(age_years=30, identity_checked=True)
MINOR = AgeFacts(
    age_years=16,
    identity_checked=True,
    guardian_present=True,
    guardian_identity_checked=True,
    guardian_photo_consent=True,
)


def test_an_adult_whose_paper_was_seen_needs_nobody() -> None:
    assert unmet(ADULT, RULES) == ()


def test_nothing_known_is_nothing_met() -> None:
    assert unmet(AgeFacts(), RULES) == (NO_AGE, NO_IDENTITY)


@pytest.mark.parametrize("fact", ["identity_checked"])
def test_what_nobody_saw_is_refused_for_an_adult(fact: str) -> None:
    assert unmet(replace(ADULT, **{fact: False}), RULES) == (NO_IDENTITY,)


def test_a_minor_with_everything_is_not_refused() -> None:
    assert unmet(MINOR, RULES) == ()


@pytest.mark.practice("common practice, no source: a guardian comes along, with a paper")
@pytest.mark.parametrize(
    ("fact", "refusal"),
    [
        ("identity_checked", NO_IDENTITY),
        ("guardian_present", NO_GUARDIAN),
        ("guardian_identity_checked", GUARDIAN_UNKNOWN),
        ("guardian_photo_consent", NO_PHOTO_CONSENT),
    ],
)
def test_a_minor_lacking_one_thing_is_refused_for_it(fact: str, refusal: object) -> None:
    assert unmet(replace(MINOR, **{fact: False}), RULES) == (refusal,)


def test_without_photos_there_is_no_consent_to_photos_to_ask_for() -> None:
    facts = replace(MINOR, guardian_photo_consent=False, photos_kept=False)
    assert unmet(facts, RULES) == ()


def test_under_the_studio_s_own_age_nothing_helps() -> None:
    assert unmet(replace(MINOR, age_years=15), RULES) == (TOO_YOUNG,)
    stricter = AgeRules(least_years=21, adult_from_years=18)
    assert unmet(replace(ADULT, age_years=20), stricter) == (TOO_YOUNG,)


def test_the_place_s_law_moves_the_age_of_adults() -> None:
    later = AgeRules(least_years=16, adult_from_years=21)
    assert unmet(replace(ADULT, age_years=20), later) == (NO_GUARDIAN,)


def test_every_set_of_facts_is_refused_exactly_where_something_lacks() -> None:
    """All 2^5 facts at each of four ages, against the rule written down another way."""
    for age, seen, there, paper, photos, kept in itertools.product(
        (15, 16, 17, 18), *[(False, True)] * 5
    ):
        facts = AgeFacts(age, seen, there, paper, photos, kept)
        guarded = there and paper and (photos or not kept)
        allowed = seen and age >= 16 and (age >= 18 or guarded)
        assert (unmet(facts, RULES) == ()) is allowed


def test_every_refusal_says_what_to_do_and_is_listed() -> None:
    assert len({refusal.id for refusal in CONSENT}) == len(CONSENT) == 6
    for refusal in CONSENT:
        assert ";" in refusal.text


@pytest.mark.parametrize(
    ("born", "day", "years"),
    [
        (date(2010, 5, 2), date(2026, 5, 1), 15),
        (date(2010, 5, 2), date(2026, 5, 2), 16),
        (date(2008, 2, 29), date(2026, 2, 28), 17),
        (date(2008, 2, 29), date(2026, 3, 1), 18),
        (date(2008, 2, 29), date(2028, 2, 29), 20),
        (date(2026, 1, 1), date(2026, 1, 1), 0),
    ],
)
def test_age_on_a_day(born: date, day: date, years: int) -> None:
    assert age_years(born, day) == years


@given(st.dates(date(1900, 1, 1), date(2099, 12, 31)), st.integers(0, 40000))
def test_age_as_another_library_counts_it(born: date, days: int) -> None:
    """dateutil counts 28 February as the birthday of 29 February; ours is a day later."""
    day = date.fromordinal(born.toordinal() + days)
    theirs = relativedelta(day, born).years
    leap = (born.month, born.day) == (2, 29) and (day.month, day.day) == (2, 28)
    if not leap:
        assert age_years(born, day) == theirs
    else:
        assert age_years(born, day) <= theirs


def test_before_birth_is_a_bug() -> None:
    with pytest.raises(ValueError, match="must not lie before"):
        age_years(date(2026, 5, 2), date(2026, 5, 1))


@pytest.mark.parametrize("years", [0, -1, 121])
def test_ages_that_are_none_are_bugs(years: int) -> None:
    with pytest.raises(ValueError, match="ages must be"):
        AgeRules(least_years=years)
