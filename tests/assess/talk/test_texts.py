"""What holds for all sentences as data."""

from __future__ import annotations

import re

import pytest

from assess.talk.care import CARE, CAUTIONS, DECIDES, SENTENCES
from assess.talk.catalogue import LISTED, sentences, texts
from assess.talk.decided import LABELS
from assess.talk.outcome import OUTCOMES, Outcome
from assess.talk.questions import QUESTIONS
from assess.talk.sentences import Basis, Sentence


def test_every_sentence_has_a_name_of_its_own_a_reason_and_a_mark() -> None:
    for name, sentence in sentences().items():
        assert sentence.id == name
        assert sentence.text.strip() == sentence.text != ""
        assert sentence.why.endswith((".", ")")), name
        assert sentence.basis.source, name


def test_names_are_not_used_twice() -> None:
    found = [name for name in texts() if not name.endswith(".why")]
    listed = sum(1 + len(q.answers) for q in QUESTIONS)
    said = sum(1 for q in QUESTIONS for a in q.answers if a.says is not None)
    plain = sum(len(group) for _, group in LISTED)
    assert len(found) == listed + said + plain + len(LABELS)


def test_what_the_trade_says_is_marked_so() -> None:
    kinds = {sentence.basis.kind for sentence in sentences().values()}
    assert kinds == {"practice", "published", "second_hand", "memory", "own"}
    for sentence in sentences().values():
        if sentence.basis.kind == "practice":
            assert "common practice, no source" in str(sentence.basis)
        else:
            assert "common practice" not in str(sentence.basis) or "defaults" in str(sentence.basis)


def test_marks_say_how_far_a_source_was_seen() -> None:
    assert str(Basis("memory", "Somebody, 1999")) == "published, from memory: Somebody, 1999"
    assert "second-hand" in str(Basis("second_hand", "Somebody, 1999"))


def test_a_caution_says_in_every_language_what_must_stay() -> None:
    with pytest.raises(ValueError, match="must say in each language"):
        Sentence("x", "Text.", "Why.", caution=True, keeps={"en": ("text",)})


def test_the_safety_of_the_sheet_hangs_on_cautions() -> None:
    names = {caution.id for caution in CAUTIONS}
    assert names >= {"care.signs", "care.sinks", "care.stays", "care.healing", "care.decides"}
    assert DECIDES in SENTENCES
    assert {s.id for _, section in CARE for s in section} | {DECIDES.id} == {
        s.id for s in SENTENCES
    }


def test_cautions_keep_their_own_patterns() -> None:
    for caution in CAUTIONS:
        for pattern in caution.keeps["en"]:
            assert re.search(pattern, caution.text, re.IGNORECASE), (caution.id, pattern)


def test_every_outcome_has_its_words_and_a_doctor_weighs_most() -> None:
    assert set(OUTCOMES) == set(Outcome)
    assert max(Outcome) is Outcome.DOCTOR
    assert [OUTCOMES[o].text for o in sorted(Outcome)] == [
        "Go on.",
        "The piercer decides.",
        "Wait.",
        "Ask a doctor first.",
    ]


def test_nothing_diagnoses() -> None:
    """No sentence says what somebody has."""
    for name, text in texts().items():
        assert not re.search(r"\byou have\b|\byou suffer\b|\binfected\b", text, re.I), name
