"""All questions, in the order in which they are asked."""

from __future__ import annotations

from assess.talk.daily_life import DAILY_LIFE
from assess.talk.health import ON_HEALTH
from assess.talk.outcome import Question

QUESTIONS: tuple[Question, ...] = (*DAILY_LIFE, *ON_HEALTH)
