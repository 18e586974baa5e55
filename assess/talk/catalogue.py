"""Every text of the talk by its name, in English: what a translation has to hold."""

from __future__ import annotations

from collections.abc import Iterator

from assess.talk.care import SENTENCES
from assess.talk.chair import CHAIR
from assess.talk.consent import CONSENT
from assess.talk.decided import LABELS, SHEET
from assess.talk.not_here import NOT_HERE
from assess.talk.outcome import OUTCOMES, Question
from assess.talk.plan import VISITS
from assess.talk.questions import QUESTIONS
from assess.talk.reminder import REMINDERS
from assess.talk.sentences import Sentence

LISTED: tuple[tuple[str, tuple[Sentence, ...]], ...] = (
    ("The order in the chair", CHAIR),
    ("Age and consent", CONSENT),
    ("Where answers lead", tuple(OUTCOMES.values())),
    ("Visits", VISITS),
    ("The text that reminds of a visit", REMINDERS),
    ("The client's sheet: the decision, the jewellery, the days", SHEET),
    ("The client's sheet: not here", NOT_HERE),
    ("The client's sheet: at home", SENTENCES),
)
"""All sentences but the questions' own, with the heading under which the documents list them."""


FOR_CLIENTS: tuple[tuple[str, tuple[Sentence, ...]], ...] = (*LISTED[4:], *LISTED[2:4])
"""Those that a client reads: what a studio puts into its own words on the screens."""


def for_clients() -> dict[str, tuple[str, ...]]:
    """Return the names of the texts that a client reads, by the heading they stand under."""
    found = {title: tuple(sentence.id for sentence in group) for title, group in FOR_CLIENTS}
    found |= {question.text: tuple(dict(_question(question))) for question in QUESTIONS}
    return found | {"Headings and fields": tuple(LABELS)}


def said_after(question: Question) -> tuple[Sentence, ...]:
    """Return what may be said after the answers to a question."""
    return tuple(answer.says for answer in question.answers if answer.says is not None)


def sentences() -> dict[str, Sentence]:
    """Return every sentence by its name."""
    listed = [s for _, group in LISTED for s in group]
    asked = [s for question in QUESTIONS for s in said_after(question)]
    return {sentence.id: sentence for sentence in (*listed, *asked)}


def texts() -> dict[str, str]:
    """Return every text that can be translated, by its name: the reasons under ``NAME.why``."""
    return dict(_texts())


def _texts() -> Iterator[tuple[str, str]]:
    yield from LABELS.items()
    for _, group in LISTED:
        for sentence in group:
            yield from _sentence(sentence)
    for question in QUESTIONS:
        yield from _question(question)


def _question(question: Question) -> Iterator[tuple[str, str]]:
    yield question.id, question.text
    yield f"{question.id}.why", question.why
    for answer in question.answers:
        yield f"{question.id}.{answer.id}", answer.text
        if answer.says is not None:
            yield from _sentence(answer.says)


def _sentence(sentence: Sentence) -> Iterator[tuple[str, str]]:
    yield sentence.id, sentence.text
    yield f"{sentence.id}.why", sentence.why
