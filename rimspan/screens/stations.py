"""The stations of a consultation and, in a word, what each still lacks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from assess.plan_marks import PlanMarks
from assess.reading import ONE_VIEW_TILT_DEG, PhotoReading
from assess.result import Result
from assess.talk.consent import AgeRules, unmet
from assess.talk.outcome import Outcome
from assess.talk.questions import QUESTIONS
from assess.talk.record import Talk
from assess.view_set import VIEWS, Side, missing_views
from rimspan.screens.document import RUNNING, missing_marks

VERDICTS = {
    "supports": "supports",
    "undecided": "can't tell yet",
    "does_not_support": "doesn't support",
}

WAYS = (("from above", {"above", "behind"}), ("from below", {"front", "below"}))


LEADS = {
    Outcome.GO_ON: "go on",
    Outcome.PIERCER: "piercer decides",
    Outcome.WAIT: "wait",
    Outcome.DOCTOR: "doctor first",
}


def talk_word(talk: Talk, rules: AgeRules) -> str:
    """Return whether age and consent are met, which questions are open, or where answers lead."""
    if unmet(talk.facts, rules):
        return "age and consent open"
    found = talk.together
    if len(found.unasked) == len(QUESTIONS):
        return "nothing asked"
    if found.unasked:
        return f"{len(found.unasked)} to ask"
    return LEADS[found.outcome]


def count_word(photos: int) -> str:
    """Return how many photos there are."""
    if photos == 0:
        return "none yet"
    return "1 photo" if photos == 1 else f"{photos} photos"


def photos_word(readings: Iterable[PhotoReading], side: Side) -> str:
    """Return how many photos of an ear there are and whether one of them can be measured alone."""
    seen = list(readings)
    count = count_word(len(seen))
    if not seen:
        return count
    refused = [r for r in seen if r.refusal is not None]
    if len(refused) == len(seen):
        return f"{count}, none usable"
    if not any(is_square_on(r) for r in seen):
        return f"{count}, none square-on"
    missing = {view.name for view in missing_views(seen, side)}
    if len(VIEWS) - len(missing) > 1:  # a set of views was begun
        for way, views in WAYS:
            if views <= missing:
                return f"{count}, none {way}"
    return count


def is_square_on(reading: PhotoReading) -> bool:
    """Return whether a photo is straight enough to be measured by itself."""
    return reading.tilt_deg is not None and reading.tilt_deg <= ONE_VIEW_TILT_DEG


def marks_word(document: Mapping[str, Any]) -> str:
    """Return which mark is missing first, and how many more."""
    missing = missing_marks(document)
    if not document["photos"]:
        return "no photo yet"
    if any(RUNNING in photo for photo in document["photos"]):
        return "pass not finished"
    if not missing:
        return "all set"
    more = f" and {len(missing) - 1} more" if len(missing) > 1 else ""
    return f"no {missing[0]}{more}"


def answer_word(result: Result | None) -> str:
    """Return the verdict in a word."""
    if result is None or not result.placements:
        return "not yet"
    words = [VERDICTS[placement.verdict] for placement in result.placements]
    return words[0] if len(set(words)) == 1 else f"{len(words)} placements"


def unread_word(document: Mapping[str, Any]) -> str:
    """Return whether there may be an answer, where the photos aren't read for it."""
    return "open to see" if document["photos"] or document["caliper"] else "not yet"


def plan_word(plan: PlanMarks | None) -> str:
    """Return how many posts are planned, and whether the client has approved the drawing."""
    if plan is None or not plan.placements:
        return "optional"
    count = len(plan.placements)
    said = {None: "not approved", "approved": "approved", "anew": "to mark anew"}
    return f"{count} planned, {said[plan.approval.answer if plan.approval else None]}"


def sign_word(saved: int | None) -> str:
    """Return whether this very draft is saved."""
    return "not saved" if saved is None else f"saved, no. {saved}"
