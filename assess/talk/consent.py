"""Age and consent: what must be so before a confirmation can be given.

Local law comes first and differs from place to place; the studio sets its own ages.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from assess.talk.sentences import PRACTICE, Basis, Sentence
from assess.talk.spans import later

_LAW = Basis("second_hand", "Breuner, Levine, Pediatrics 140(4), 2017; the law of the place")


@dataclass(frozen=True, slots=True)
class AgeRules:
    """The studio's ages, whole years.

    The defaults are assumptions (common practice, no source).  The law of the place comes first:
    a studio may be stricter than it, never laxer.
    """

    least_years: int = 16
    """Nobody younger is pierced here, whoever agrees."""
    adult_from_years: int = 18
    """Below it a guardian is needed."""

    def __post_init__(self) -> None:
        if not 0 < self.least_years <= 120 or not 0 < self.adult_from_years <= 120:
            raise ValueError(
                f"ages must be 1 to 120 years (got {self.least_years}, {self.adult_from_years})"
            )


@dataclass(frozen=True, slots=True)
class AgeFacts:
    """What somebody at the studio saw with their own eyes; nothing unseen counts as met."""

    age_years: int | None = None
    identity_checked: bool = False
    guardian_present: bool = False
    guardian_identity_checked: bool = False
    guardian_photo_consent: bool = False
    photos_kept: bool = True
    """Whether photos of the client are taken or kept."""


def _rule(name: str, text: str, why: str, basis: Basis = PRACTICE) -> Sentence:
    return Sentence(f"consent.{name}", text, why, basis)


NO_AGE = _rule(
    "no_age",
    "The age isn't known; ask for the date of birth and look at an identity paper.",
    "Without an age nobody knows which rule holds.",
)
NO_IDENTITY = _rule(
    "no_identity",
    "Nobody looked at an identity paper; look at it, and tick that you did.",
    "An age that is only told is no age.",
)
TOO_YOUNG = _rule(
    "too_young",
    "The client is younger than this studio pierces; nothing makes up for that.",
    "The studio's own minimum age holds whoever agrees.",
)
NO_GUARDIAN = _rule(
    "no_guardian",
    "A guardian must be present; make an appointment with one.",
    "Many places ask for a guardian's permission where somebody is not of age.",
    _LAW,
)
GUARDIAN_UNKNOWN = _rule(
    "guardian_unknown",
    "Nobody looked at the guardian's identity paper; look at it, and tick that you did.",
    "Anybody can say that they are a guardian.",
)
NO_PHOTO_CONSENT = _rule(
    "no_photo_consent",
    "The guardian hasn't agreed to the photos; ask, or measure without photos.",
    "An ear can tell who somebody is, and a child can't give that away alone.",
    Basis("published", "arXiv 2406.00135, for ears that tell who somebody is"),
)

CONSENT = (NO_AGE, NO_IDENTITY, TOO_YOUNG, NO_GUARDIAN, GUARDIAN_UNKNOWN, NO_PHOTO_CONSENT)
"""Every way in which age and consent can be unmet."""


def age_years(born: date, day: date) -> int:
    """Return the whole years of somebody's life on a day.

    Born on 29 February, a year is full on 1 March where there is no such day: the later, so the
    stricter, of the two readings.

    Raises
    ------
    ValueError
        If the day lies before the birth.
    """
    if day < born:
        raise ValueError(f"'day' must not lie before 'born' (got {day}, {born})")
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def born_by(day: date, years: int) -> date:
    """Return the last date of birth of somebody who has that many whole years on a day."""
    return later(day, -12 * years, "months")


def unmet(facts: AgeFacts, rules: AgeRules) -> tuple[Sentence, ...]:
    """Return everything in age and consent that isn't met; empty where all of it is.

    The confirmation is refused while this isn't empty.
    """
    found = [] if facts.identity_checked else [NO_IDENTITY]
    if facts.age_years is None:
        return (NO_AGE, *found)
    if facts.age_years < rules.least_years:
        found.append(TOO_YOUNG)
    if facts.age_years < rules.adult_from_years:
        found += _unmet_by_guardian(facts)
    return tuple(found)


def _unmet_by_guardian(facts: AgeFacts) -> list[Sentence]:
    if not facts.guardian_present:
        return [NO_GUARDIAN]
    found = [] if facts.guardian_identity_checked else [GUARDIAN_UNKNOWN]
    if facts.photos_kept and not facts.guardian_photo_consent:
        found.append(NO_PHOTO_CONSENT)
    return found
