"""The page on the talk lists what the data holds, and nothing else."""

from __future__ import annotations

from assess.talk.catalogue import sentences, texts
from assess.talk.questions import QUESTIONS
from benchmarks.talk_page import BEGINS, PAGE, lists


def written() -> str:
    return PAGE.read_text(encoding="utf-8").split(BEGINS)[1]


def test_the_lists_are_those_of_the_data() -> None:
    """Else: python -m benchmarks.talk_page."""
    assert written() == lists()


def test_every_sentence_stands_there_with_its_reason_and_its_mark() -> None:
    rows = [line.split(" | ") for line in written().splitlines() if line.startswith("| ")]
    cells = [[cell.strip("| ") for cell in row] for row in rows]
    for sentence in sentences().values():
        wanted = {sentence.text, sentence.why, str(sentence.basis)}
        assert any(wanted <= set(row) for row in cells), sentence.id
    for question in QUESTIONS:
        assert f"### {question.text}" in written()
        assert question.why in written()
        for answer in question.answers:
            assert any(answer.text == row[0] for row in cells), answer.id


def test_no_text_would_break_a_table() -> None:
    assert not [name for name, text in texts().items() if "|" in text or "\n" in text]
