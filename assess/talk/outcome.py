"""Where answers lead, and what they come to together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum

from assess.talk.sentences import OWN, Basis, Sentence


class Outcome(IntEnum):
    """Where an answer leads; the weightier counts more."""

    GO_ON = 0
    PIERCER = 1
    WAIT = 2
    DOCTOR = 3


OUTCOMES: Mapping[Outcome, Sentence] = {
    Outcome.GO_ON: Sentence(
        "outcome.go_on",
        "Go on.",
        "Nothing that was asked speaks against it; the piercer decides all the same.",
        OWN,
    ),
    Outcome.PIERCER: Sentence(
        "outcome.piercer",
        "The piercer decides.",
        "It can be right or wrong for this ear; somebody who sees it has to weigh it.",
        OWN,
    ),
    Outcome.WAIT: Sentence(
        "outcome.wait",
        "Wait.",
        "Later is better; nothing is lost by waiting.",
        OWN,
    ),
    Outcome.DOCTOR: Sentence(
        "outcome.doctor",
        "Ask a doctor first.",
        "Health is for licensed care. Neither the piercer nor this program judges it.",
        OWN,
    ),
}


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer to tap: where it leads, and what is said then.

    ``says`` is a sentence to the client, None where there is nothing to say.  ``dated`` is
    whether the answer comes with the date until which it holds.  ``alone`` is whether it can't
    stand beside others, like "none of these".
    """

    id: str
    text: str
    outcome: Outcome = Outcome.GO_ON
    says: Sentence | None = None
    dated: bool = False
    alone: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, why, and the answers; ``several`` where more than one may be tapped."""

    id: str
    text: str
    why: str
    basis: Basis
    answers: tuple[Answer, ...]
    several: bool = False
    health: bool = False

    def answer(self, answer_id: str) -> Answer:
        """Return one of the answers."""
        for answer in self.answers:
            if answer.id == answer_id:
                return answer
        raise ValueError(f"'answer_id' must be an answer to {self.id} (got {answer_id!r})")


@dataclass(frozen=True, slots=True)
class Given:
    """What a client answered to one question, and until when, where that is known."""

    answers: tuple[str, ...]
    until: date | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One answer that leads anywhere but straight on, or that has something to say."""

    question: str
    answer: Answer
    until: date | None


@dataclass(frozen=True, slots=True)
class Together:
    """What all answers come to: the weightiest outcome, and everything that was found."""

    outcome: Outcome
    until: date | None
    """The latest of the dates to wait for; None where there is no wait, or one has no date."""
    findings: tuple[Finding, ...]
    unasked: tuple[str, ...]
    """Questions that nobody answered: until then the piercer decides, never the program."""


def together(questions: Sequence[Question], given: Mapping[str, Given]) -> Together:
    """Return what the answers come to.

    The weightiest outcome leads: a doctor before waiting, waiting before the piercer's weighing,
    and going on only where every question was answered and nothing speaks against it.

    Raises
    ------
    ValueError
        If an answer belongs to no question, or two answers can't stand together.
    """
    known = {question.id for question in questions}
    if set(given) - known:
        raise ValueError(f"'given' must answer the questions (got {sorted(set(given) - known)})")
    found = [f for question in questions for f in _findings(question, given.get(question.id))]
    unasked = tuple(q.id for q in questions if not _is_answered(given.get(q.id)))
    outcomes = [finding.answer.outcome for finding in found]
    least = Outcome.PIERCER if unasked else Outcome.GO_ON
    return Together(max([least, *outcomes]), _until(found), tuple(found), unasked)


def _is_answered(given: Given | None) -> bool:
    return given is not None and bool(given.answers)


def _findings(question: Question, given: Given | None) -> list[Finding]:
    if given is None:
        return []
    answers = [question.answer(answer_id) for answer_id in given.answers]
    if len(answers) > 1 and not question.several:
        raise ValueError(f"{question.id} must have one answer (got {len(answers)})")
    if len(answers) > 1 and any(answer.alone for answer in answers):
        raise ValueError(f"{question.id}: 'none of these' must stand alone")
    telling = [a for a in answers if a.outcome is not Outcome.GO_ON or a.says is not None]
    return [Finding(question.id, a, given.until if a.dated else None) for a in telling]


def _until(found: Sequence[Finding]) -> date | None:
    waits = [finding.until for finding in found if finding.answer.outcome is Outcome.WAIT]
    dates = [until for until in waits if until is not None]
    return max(dates) if dates and len(dates) == len(waits) else None
