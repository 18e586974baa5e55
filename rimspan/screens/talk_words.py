"""The words of the Talk page that stand in no catalogue."""

from __future__ import annotations

from datetime import date

from assess.talk.consent import AgeRules, born_by
from assess.talk.decided import Decided
from assess.talk.outcome import Outcome, Together
from rimspan.languages import Language

AGE, QUESTIONS, DAYS, CHAIR = "Age and consent", "Questions", "Days", "In the chair"
PARTS = (AGE, QUESTIONS, DAYS, CHAIR)

LANGUAGES = {"en": "English", "de": "Deutsch"}
REPORTS = {"en": "Download the report (PDF)", "de": "The report in German (PDF)"}
PAPERS = {"a4": "A4", "us-letter": "Letter"}

AGE_WHY = (
    "The studio's own ages; the law of the place comes first. While this isn't met, no assessment "
    "of this client is confirmed."
)
MET = "Age and consent are met."
SEEN = {
    "identity_checked": "I looked at the client's identity paper",
    "guardian_present": "A guardian is here",
    "guardian_identity_checked": "I looked at the guardian's identity paper",
    "guardian_photo_consent": "The guardian agrees to the photos",
}

CHAIR_WHY = "A list that follows the work. It blocks nothing, and ticks stay after saving."
LEADS = "Answers lead on, nothing here diagnoses or decides. The piercer decides."
DAYS_WHY = (
    "Everything counts from the day of the piercing. Healing is always a range; nobody can "
    "promise a day."
)
TIMES_WHY = (
    "Tap a day and an hour: they go on the client's sheet and into the calendar file. Clock:"
)
AGREE, CHANGE_TIME = "Agree a time: {visit}", "Change the time: {visit}"
CLOSE = "Close: {visit}"
NO_TIME = "no time yet"
AWRY = "Not one of the days of this visit, or in the client's own dates. Agree on it anew?"
TRIP_KINDS = ("ask.trip.trip", "ask.trip.swim")
"""What the client's own dates are of, by the names of texts, so that a sheet can translate them."""
UPSIDE_DOWN = "The last day lies before the first. Choose them again."

DECISIONS: dict[Decided, str] = {
    "goes_ahead": "goes ahead",
    "waits": "waits",
    "doctor_first": "doctor first",
    "not_here": "not here",
}

SHEET_FIELDS = {
    "ends": "Ends (optional)",
    "material": "Material (optional)",
    "note": "Your reason, in your words (optional)",
}
MOST = {"ends": 80, "material": 80, "note": 300}
"""Signs of each."""


def ages(rules: AgeRules) -> list[int]:
    """Return the least ages that make a difference here, the oldest first; 0 is too young."""
    return sorted({rules.adult_from_years, rules.least_years, 0}, reverse=True)


def age_words(years: int, rules: AgeRules, today: date, words: Language) -> str:
    """Return an age to tap, with the dates of birth that it means today."""
    known = ages(rules)
    at = known.index(years) if years in known else 0
    born = words.day(born_by(today, years))
    if at == 0:
        return f"{years} or older: born {born} or before"
    over = known[at - 1]
    if years == 0:
        return f"Under {over}: born after {words.day(born_by(today, over))}"
    return f"{years} to {over - 1}: born {born} or before"


def leads_words(found: Together, words: Language) -> str:
    """Return where answers lead, with the day where one is known."""
    if found.outcome is Outcome.WAIT and found.until is not None:
        return words.say("decided.waits_until", date=words.day(found.until))
    return words.say(OUTCOME_NAMES[found.outcome])


OUTCOME_NAMES = {
    Outcome.GO_ON: "outcome.go_on",
    Outcome.PIERCER: "outcome.piercer",
    Outcome.WAIT: "outcome.wait",
    Outcome.DOCTOR: "outcome.doctor",
}


def open_words(count: int) -> str:
    """Return how many questions nobody answered yet."""
    if not count:
        return "Every question is answered."
    return "1 question isn't answered." if count == 1 else f"{count} questions aren't answered."
