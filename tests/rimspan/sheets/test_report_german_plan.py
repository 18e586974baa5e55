"""The plan's lines on the report in German: each of its sentences has one."""

from __future__ import annotations

import itertools
import json
from collections.abc import Iterator
from typing import get_args

from assess import plan_words, wear_words
from assess.ends import Shape, Style
from assess.how_many import HowMany, Tissue, Why
from assess.plan_marks import Approval, EndMarks, PlanJewellery, Thread
from assess.result import Result
from assess.spacing import Clearance
from assess.together import Together
from assess.wear import Says, WearClearance
from assess.worn_post import When
from calibration.quantity import Quantity
from rimspan.assessment import assess_marks
from rimspan.demo.lay_out import samples
from rimspan.languages.phrases import Translator
from rimspan.plan_lines import plan_lines
from tests.rimspan.sheets.test_report_german import ENGLISH

LENGTH = Quantity(1.23, 0.2, 0.8, 1.6, "mm")


def together(*missing: str, chance: float | None = 0.9) -> Together:
    lacking = tuple(("A", name) for name in missing)
    return Together(chance, {"A": 0.9}, {("A", "cover"): 0.9}, lacking)


def counted() -> Iterator[HowMany]:
    for why, tissue, measured in itertools.product(get_args(Why), get_args(Tissue), (True, False)):
        for joint in (None, together()):
            more = together() if why == "together" else None
            yield HowMany(2, None, joint, (), why, 4, more, tissue, measured)
    yield HowMany(2, None, together(), (), "together", 4, None, "firm", True)


def sentences() -> Iterator[str]:
    for found in counted():
        yield plan_words.number_sentence(found)
    for wanted, planned in itertools.product(range(1, 6), range(6)):
        yield plan_words.wanted_sentence(wanted, planned, next(counted()))
    most = list(plan_words.LIMIT_WORDS)
    for count in range(6):
        yield plan_words.together_sentence(together(*most[:count]))
    yield plan_words.together_sentence(together(chance=None))
    yield plan_words.off_rim_sentence(("A", "B"))
    for answer in ("approved", "anew"):
        held = {"answer": answer, "at": "2026-11-26T10:00:00Z", "by": "Alex Invented"}
        yield plan_words.approval_sentence(Approval.model_validate(held), 2)
    yield plan_words.approval_sentence(None, 2)
    for part, apart in itertools.product(plan_words.PART_WORDS, (3.0, 9.0)):
        if apart < 6.0:
            yield plan_words.clearance_sentence(Clearance("A", "B", part, apart, 6.0))
    for thing, side, when, says in itertools.product(
        wear_words.THING_WORDS, ("entry", "exit"), get_args(When), get_args(Says)
    ):
        if says != "clear":
            found = WearClearance(thing, "worn.jpg", "A", side, when, LENGTH, 0.5, says)  # type: ignore[arg-type]
            yield wear_words.wear_sentence(found)
    for style, thread, shape in itertools.product(
        get_args(Style), get_args(Thread), get_args(Shape)
    ):
        end = EndMarks(shape=shape)
        made = PlanJewellery(style=style, thread=thread, top=end, bottom=end)
        yield wear_words.jewellery_sentence(made)
    reasons = tuple(wear_words.UNSUITABLE_WORDS)
    for count in range(1, 4):
        for some in itertools.combinations(reasons, count):
            yield wear_words.unsuitable_sentence(some)


def test_every_sentence_of_a_plan_has_its_german() -> None:
    translator = Translator("de")
    said = [translator.say(each) for each in sentences()]
    assert translator.unknown == []
    assert len(set(said)) > 200
    for line in said:
        left = {word.strip(".,;:()").lower() for word in line.split()} & ENGLISH
        assert left <= {"a"}, line  # a label


def test_the_demo_s_plan_is_german_to_the_last_line() -> None:
    folder = samples().joinpath("three")
    marks = json.loads(folder.joinpath("marks-plan.json").read_text("utf-8"))
    photos = {p["file"]: folder.joinpath(p["file"]).read_bytes() for p in marks["photos"]}
    result = Result.model_validate(assess_marks(marks, photos, draws=2_000).result)
    assert result.plan is not None
    translator = Translator("de")
    said = [translator.say(line) for line in plan_lines(result.plan)]
    assert translator.unknown == []
    assert said[0] == "Drei Stäbe gewünscht; geplant: zwei Stäbe (der Rand trägt: zwei Stäbe)."
