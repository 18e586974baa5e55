"""The parts of the Talk page: age and consent, the questions, the order in the chair."""

from __future__ import annotations

from functools import partial
from html import escape

import streamlit as st

from assess.talk.chair import CHAIR, still_open
from assess.talk.consent import unmet
from assess.talk.outcome import Answer, Question
from assess.talk.questions import QUESTIONS
from assess.talk.record import Talk, with_age, with_answer, with_step
from rimspan.languages import Language
from rimspan.screens import state, talk_days
from rimspan.screens.document import Document
from rimspan.screens.layout import html
from rimspan.screens.store import client_file
from rimspan.screens.talk_draft import keep, keep_running, record, talk_of, words_in
from rimspan.screens.talk_words import (
    AGE_WHY,
    CHAIR_WHY,
    LANGUAGES,
    LEADS,
    MET,
    OUTCOME_NAMES,
    SEEN,
    age_words,
    ages,
    leads_words,
    open_words,
)
from rimspan.studio import age_rules
from rimspan.studio_clock import today


def asking() -> str:
    """Return where it stands which question is open, if not the first that nobody answered."""
    return f"asking {state.client_id()} {state.side()}"


def held(key: str, now: object) -> str:
    """Let a field show what the draft holds, also where another chair changed it."""
    state.set_value(key, now)
    return key


def age(document: Document) -> None:
    """Draw what must be so before a confirmation, and what of it isn't met."""
    talk, rules, words = talk_of(document), age_rules(client_file()), words_in("en")
    on, facts = today(client_file()), record(document).get("age", {})
    html(f'<p class="rim-quiet">{AGE_WHY}</p>')
    st.segmented_control(
        "How old, by the identity paper?",
        ages(rules),
        format_func=lambda years: age_words(years, rules, on, words),
        key=held("age years", facts.get("at_least_years")),
        on_change=_aged,
    )
    years = talk.facts.age_years
    minor = years is not None and years < rules.adult_from_years
    for name, label in SEEN.items():
        if minor or name == "identity_checked":
            key = held(f"age {name}", facts.get(name) is True)
            st.checkbox(label, key=key, on_change=_saw, args=(name,))
    missing = unmet(talk.facts, rules)
    for sentence in missing:
        html(f'<div class="rim-flag">{escape(sentence.text)}</div>')
    if not missing:
        html(f'<p class="rim-live">{MET}</p>')


def _aged() -> None:
    keep(partial(with_age, at_least_years=state.value("age years")))


def _saw(name: str) -> None:
    seen = bool(state.value(f"age {name}"))
    keep(lambda old: with_age(old, **{name: seen}))


def questions(document: Document) -> None:
    """Draw the question that is open, and under it what was answered."""
    talk = talk_of(document)
    code = record(document).get("language", "en")
    words = words_in(code)
    unasked = [question for question in QUESTIONS if question.id not in talk.given]
    asked = state.value(asking())
    opened = next((q for q in QUESTIONS if q.id == asked), unasked[0] if unasked else None)
    if opened is not None:
        with st.container(border=True, key="question"):
            _question(opened, talk, words)
    _together(talk, words)
    for question in QUESTIONS:
        if question.id in talk.given and question is not opened:
            _answered(question, talk, words)
    st.segmented_control(
        "Language of the questions",
        list(LANGUAGES),
        format_func=LANGUAGES.__getitem__,
        key=held("language", code),
        on_change=_spoken,
    )


def _spoken() -> None:
    code = state.value("language") or "en"
    keep_running(lambda old: old | {"language": code})


def _question(question: Question, talk: Talk, words: Language) -> None:
    number = QUESTIONS.index(question) + 1
    st.subheader(words.say(question.id), anchor=False)
    html(f'<p class="rim-quiet">{number} of {len(QUESTIONS)}. {escape(_why(question, words))}</p>')
    picked = talk.given[question.id].answers if question.id in talk.given else ()
    for answer in question.answers:
        if answer.alone or not question.several:
            label = words.say(f"{question.id}.{answer.id}")
            st.button(
                f"{label} ✓" if answer.id in picked else label,
                key=f"answer {question.id} {answer.id}",
                width="stretch",
                on_click=_tapped,
                args=(question, answer),
            )
    if question.several:
        _several(question, picked, words)
    if any(question.answer(name).dated for name in picked):
        talk_days.until(question, talk)
    if picked and state.value(asking()) == question.id:
        st.button("Next", type="primary", on_click=partial(state.set_value, asking(), None))


def _why(question: Question, words: Language) -> str:
    return words.say(f"{question.id}.why")


def _several(question: Question, picked: tuple[str, ...], words: Language) -> None:
    beside = [answer.id for answer in question.answers if not answer.alone]
    key = held(f"several {question.id}", [name for name in picked if name in beside])
    st.pills(
        words.say(question.id),
        beside,
        selection_mode="multi",
        format_func=lambda name: words.say(f"{question.id}.{name}"),
        key=key,
        label_visibility="collapsed",
        on_change=_picked,
        args=(question,),
    )


def _tapped(question: Question, answer: Answer) -> None:
    """Keep an answer and go on; one with a date stays for it."""
    keep(lambda old: with_answer(old, question.id, [answer.id]))
    state.set_value(asking(), question.id if answer.dated else None)


def _picked(question: Question) -> None:
    names = list(state.value(f"several {question.id}") or [])
    keep(lambda old: with_answer(old, question.id, names))
    state.set_value(asking(), question.id)


def _together(talk: Talk, words: Language) -> None:
    """Draw what all answers come to; nothing before the first."""
    if not talk.given:
        return
    found = talk.together
    html(
        f'<p class="rim-live" lang="{words.code}">{escape(leads_words(found, words))}</p>'
        f'<p class="rim-quiet">{escape(open_words(len(found.unasked)))} {LEADS}</p>'
    )


def _answered(question: Question, talk: Talk, words: Language) -> None:
    """Draw one answered question: the answers, where they lead, and why."""
    lines = ""
    for name in talk.given[question.id].answers:
        answer = question.answer(name)
        label = escape(words.say(f"{question.id}.{name}"))
        leads = escape(words.say(OUTCOME_NAMES[answer.outcome]))
        lines += f"<p><strong>{label}</strong> <span>{leads}</span></p>"
        if answer.says is not None:
            says, why = words.say(answer.says.id), words.say(f"{answer.says.id}.why")
            lines += f'<p class="rim-quiet">{escape(says)} {escape(why)}</p>'
    asked = escape(words.say(question.id))
    with st.container(horizontal=True, vertical_alignment="center", key=f"asked-{question.id[4:]}"):
        html(f'<div class="rim-asked" lang="{words.code}"><p>{asked}</p>{lines}</div>')
        st.button("Change", key=f"again {question.id}", on_click=_again, args=(question,))


def _again(question: Question) -> None:
    state.set_value(asking(), question.id)


def chair(document: Document) -> None:
    """Draw the order in the chair; it blocks nothing."""
    done = talk_of(document).chair
    left = still_open(done)
    html(f'<p class="rim-quiet">{CHAIR_WHY}</p>')
    said = f"Next: {left[0].text}" if left else "Everything is ticked."
    html(f'<p class="rim-live">{escape(said)}</p>')
    for step in CHAIR:
        key = held(f"step {step.id}", step.id in done)
        st.checkbox(step.text, key=key, help=step.why, on_change=_ticked, args=(step.id,))


def _ticked(step: str) -> None:
    done = bool(state.value(f"step {step}"))
    keep_running(lambda old: with_step(old, step, done))
