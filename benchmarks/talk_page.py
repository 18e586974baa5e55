"""``python -m benchmarks.talk_page``: the lists of ``docs/talk.md``, from the data itself.

Everything under the page's last heading of the first level is written anew; a test holds it to
the data.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from assess.talk.catalogue import LISTED
from assess.talk.decided import LABELS
from assess.talk.outcome import OUTCOMES, Question
from assess.talk.plan import HEALING, PlanRules
from assess.talk.questions import QUESTIONS
from assess.talk.sentences import Sentence
from assess.talk.spans import Range

PAGE = Path(__file__).resolve().parents[1] / "docs" / "talk.md"
BEGINS = "<!-- From here on written by python -m benchmarks.talk_page -->\n"


def lists() -> str:
    """Return every rule and sentence with its reason and its mark, as Markdown."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    for title, group in LISTED:
        yield from ("", f"## {title}", "")
        yield from _table(("name", "says", "reason", "mark"), map(_sentence, group))
    yield from ("", "## Questions")
    for question in QUESTIONS:
        yield from _question(question)
    yield from ("", "## Days", "")
    yield from _table(("what", "range", "mark"), _ranges())
    yield from ("", "## Headings and fields", "", "They claim nothing, so they have no reason.", "")
    yield from _table(("name", "says"), LABELS.items())


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Iterator[str]:
    for row in (head, ["---"] * len(head), *rows):
        yield "| " + " | ".join(row) + " |"


def _sentence(sentence: Sentence) -> tuple[str, str, str, str]:
    name = f"{sentence.id} (caution)" if sentence.caution else sentence.id
    return name, sentence.text, sentence.why, str(sentence.basis)


def _question(question: Question) -> Iterator[str]:
    taps = "several taps" if question.several else "one tap"
    yield from ("", f"### {question.text}", "")
    yield f"{question.id}, {taps}. {question.why} ({question.basis})"
    yield ""
    yield from _table(("answer", "leads to", "says", "reason", "mark"), _answers(question))


def _answers(question: Question) -> Iterator[tuple[str, str, str, str, str]]:
    for answer in question.answers:
        leads = OUTCOMES[answer.outcome].text
        if answer.dated:
            leads = f"{leads.rstrip('.')} until a date."
        said = answer.says
        rest = ("", "", "") if said is None else (said.text, said.why, str(said.basis))
        yield (answer.text, leads, *rest)


def _ranges() -> Iterator[tuple[str, str, str]]:
    rules = PlanRules()
    named = [*rules.visits, ("look again where it is swollen", rules.look_again)]
    named += [("healing", span) for span in HEALING]
    for name, span in named:
        yield name, _span(span), str(span.basis)


def _span(span: Range) -> str:
    return f"{span.low} to {span.high} {span.unit}"


def main() -> None:
    """Write the page's lists anew."""
    before = PAGE.read_text(encoding="utf-8").split(BEGINS)[0]
    PAGE.write_text(before + BEGINS + lists(), encoding="utf-8")


if __name__ == "__main__":
    main()
