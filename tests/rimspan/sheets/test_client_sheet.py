"""The client's sheet: what stands on it in both languages, on both papers, and how it is made."""

from __future__ import annotations

import ctypes
import io
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from typing import Any, get_args

import numpy as np
import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium
import pytest
import textstat

from assess.insertion import Finding, NotHere
from assess.talk.care import CAUTIONS, SENTENCES
from assess.talk.not_here import FOUND, NOTHING_AGAINST
from assess.talk.outcome import Given, together
from assess.talk.plan import DOWNSIZING, Trip, plan_from
from assess.talk.questions import QUESTIONS
from assess.talk.rewording import WordingError
from assess.talk.sentences import LANGUAGES
from assess.talk.spans import Days
from rimspan.languages import language
from rimspan.sheets.client_sheet import (
    ClientSheet,
    Jewellery,
    TooLongError,
    client_sheet_pdf,
    page,
)
from rimspan.sheets.compiling import PAPERS, Paper

Read = Callable[[bytes], tuple[int, str]]
SIZES_MM = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
BOTH = [(code, paper) for code in LANGUAGES for paper in PAPERS]


def plain(text: str) -> str:
    return " ".join(text.translate(str.maketrans("“”‘’„", '""\'\'"')).split())


def filled(text: str) -> str:
    return plain(text).replace("{low}", "4").replace("{high}", "6")


@pytest.mark.parametrize(("code", "paper"), BOTH)
def test_every_sentence_for_home_stands_on_it(
    goes_ahead: ClientSheet, waits: ClientSheet, read: Read, code: str, paper: Paper
) -> None:
    """All cautions, whatever was decided, as an independent reader extracts them."""
    others = [replace(waits, decided="doctor_first"), replace(waits, decided="not_here")]
    for sheet in (goes_ahead, waits, *others):
        pages, text = read(client_sheet_pdf(sheet, code=code, paper=paper))
        assert pages <= 2
        for sentence in SENTENCES:
            assert filled(language(code).texts[sentence.id]) in text, sentence.id
    assert len(CAUTIONS) >= 12


def test_what_was_decided_and_why_stands_on_it(goes_ahead: ClientSheet, read: Read) -> None:
    _, text = read(client_sheet_pdf(goes_ahead))
    for words in (
        "Demo Client (invented) · Left ear · 2 March 2026",
        "We go ahead.",
        "Moved up by a hair, away from the fold.",
        "The rim has room for the post here.",
        "about 7.0 mm long, between 6.2 and 7.9.",
        "Hold the phone to the other ear.",
        "What is in",
        "Post: 1.2 mm thick, 10.32 mm long (13/32 in).",
        "Ends: flat discs, 4 mm.",
        "Material: titanium, ASTM F136.",
        "First look: 18 March 2026, 14:30.",
        "Shorter post: because of your trip, come 30 March 2026 to 2 April 2026 or 7 April 2026 to "
        "13 April 2026.",
        "On your trip (lake, 3 August 2026 to 14 August 2026) it may not have healed",
        "Your trip (Easter, 3 April 2026 to 6 April 2026) comes too early",
        "Decided by Demo Piercer (invented).",
        "Client, Date",
        "Guardian, Date",
        "Piercer, Date",
        "Page 1 of 2",
    ):
        assert words in text, words


def test_in_german_days_numbers_and_headings_are_german(
    goes_ahead: ClientSheet, read: Read
) -> None:
    _, text = read(client_sheet_pdf(goes_ahead, code="de"))
    for words in (
        "Linkes Ohr · 2. März 2026",
        "etwa 7,0 mm lang, zwischen 6,2 und 7,9.",
        "Stab: 1,2 mm dick, 10,32 mm lang (13/32 Zoll).",
        "Erster Blick: 18. März 2026, 14:30.",
        "Erziehungsberechtigt, Datum",
        "Seite 1 von 2",
    ):
        assert words in text, words
    english = {plain(t) for n, t in language("en").texts.items() if len(t) > 20}
    assert not [said for said in english if said in text]


def test_a_sheet_that_waits_says_until_when_and_that_care_is_for_later(
    waits: ClientSheet, read: Read
) -> None:
    _, text = read(client_sheet_pdf(waits))
    assert "We wait until 1 September 2026." in text
    assert "It is better to wait until the swimming is over." in text
    assert "For the day when it is done:" in text
    assert "Guardian" not in text
    assert "What is in" not in text
    assert "Client, Date" in text


def test_what_is_planned_is_not_called_in(goes_ahead: ClientSheet, read: Read) -> None:
    _, text = read(client_sheet_pdf(replace(goes_ahead, pierced=False)))
    assert "What is planned" in text
    assert "What is in " not in text


def test_a_length_that_is_no_fraction_of_an_inch_has_none(
    goes_ahead: ClientSheet, read: Read
) -> None:
    metric = replace(goes_ahead, jewellery=Jewellery(1.2, 10.0, "discs", "titanium"))
    assert "10 mm long. " in read(client_sheet_pdf(metric))[1]


def test_a_trip_over_a_whole_visit_asks_for_another_day(
    goes_ahead: ClientSheet, read: Read
) -> None:
    days = plan_from(goes_ahead.day).visit(DOWNSIZING).days
    sheet = replace(goes_ahead, trips=(Trip("far", days),))
    assert "Shorter post: your trip takes all its days." in read(client_sheet_pdf(sheet))[1]


def test_a_day_alone_is_no_span(goes_ahead: ClientSheet, read: Read) -> None:
    days = plan_from(goes_ahead.day).visit(DOWNSIZING).days
    first, last = days.first, days.last
    trip = Trip("far", Days(date.fromordinal(first.toordinal() + 1), last))
    _, text = read(client_sheet_pdf(replace(goes_ahead, trips=(trip,))))
    assert "because of your trip, come 30 March 2026. " in text


def test_the_same_reason_is_said_once(waits: ClientSheet) -> None:
    answers = together(QUESTIONS, {"ask.health": Given(("heart", "diabetes", "epilepsy"))})
    said = page(replace(waits, decided="doctor_first", answers=answers), language("en"))
    lines = said["sections"][0]["lines"]
    assert lines.count("Please ask your doctor first whether a piercing is right for you.") == 1


def test_no_answer_on_health_stands_on_it(waits: ClientSheet, read: Read) -> None:
    answers = {
        question.id: Given(
            tuple(a.id for a in question.answers if not a.alone)
            if question.several
            else (question.answers[-1].id,)
        )
        for question in QUESTIONS
        if question.health
    }
    _, text = read(client_sheet_pdf(replace(waits, answers=together(QUESTIONS, answers))))
    for word in ("diabet", "epilep", "pregnan", "heart", "raised", "latex", "alcohol", "MRI"):
        assert word.lower() not in text.lower()


# How it is made


@pytest.mark.memory(source="ISO 14289-1:2014 (PDF/UA-1), 7.1 to 7.4, 7.21: tags, title, language")
@pytest.mark.parametrize("code", LANGUAGES)
def test_its_structure_as_another_library_reads_it(
    goes_ahead: ClientSheet, picture: bytes, code: str
) -> None:
    with pikepdf.open(
        io.BytesIO(client_sheet_pdf(goes_ahead, code=code, picture_png=picture))
    ) as p:
        root = p.Root
        assert str(root.Lang) == code
        assert bool(root.MarkInfo.Marked)
        assert bool(root.ViewerPreferences.DisplayDocTitle)
        with p.open_metadata() as metadata:
            assert metadata["pdfuaid:part"] == "1"
            assert metadata["dc:title"] == language(code).say("label.title")
        tags = list(structure(root.StructTreeRoot))
    names = [name for name, _ in tags]
    assert names.count("H1") == 1
    assert names.count("H2") == 8
    assert names.count("L") == 7
    assert names.count("LI") >= len(SENTENCES) - 1
    figures = [element for name, element in tags if name == "Figure"]
    assert figures == [language(code).say("label.picture")]


def structure(element: Any) -> Iterator[tuple[str, str]]:
    """Yield each element of the structure tree: its tag, and its alternative text."""
    if isinstance(element, pikepdf.Array):
        for kid in element:
            yield from structure(kid)
        return
    if not isinstance(element, pikepdf.Dictionary):
        return
    if "/S" in element:
        yield str(element.S).lstrip("/"), str(element.get("/Alt", ""))
    if "/K" in element:
        yield from structure(element.K)


def test_its_fonts_are_in_it(goes_ahead: ClientSheet) -> None:
    with pikepdf.open(io.BytesIO(client_sheet_pdf(goes_ahead))) as opened:
        fonts = [
            inner.FontDescriptor
            for sheet in opened.pages
            for font in sheet.Resources.Font.values()
            for inner in font.DescendantFonts
        ]
        assert fonts
        assert all({"/FontFile2", "/FontFile3"} & set(font.keys()) for font in fonts)


@pytest.mark.memory(source="ISO 216: A4 is 210 mm x 297 mm; Letter is 8.5 in x 11 in")
@pytest.mark.parametrize(("code", "paper"), BOTH)
@pytest.mark.parametrize("with_picture", [False, True])
def test_nothing_is_cut_and_the_type_is_large(
    goes_ahead: ClientSheet, picture: bytes, code: str, paper: Paper, with_picture: bool
) -> None:
    pdf = client_sheet_pdf(
        goes_ahead, code=code, paper=paper, picture_png=picture if with_picture else None
    )
    document = pypdfium2.PdfDocument(pdf)
    try:
        assert len(document) == 2
        for sheet in document:
            size = [side / 72 * 25.4 for side in sheet.get_size()]
            assert size == pytest.approx(SIZES_MM[paper], abs=0.1)
            ink = np.asarray(sheet.render(scale=2).to_pil().convert("L")) < 250
            rows, columns = np.flatnonzero(ink.any(1)), np.flatnonzero(ink.any(0))
            mm = 25.4 / 144
            assert columns[0] * mm > 16
            assert (ink.shape[1] - columns[-1]) * mm > 16
            assert rows[0] * mm > 11
            assert (ink.shape[0] - rows[-1]) * mm > 6
        smallest = min(size for sheet in document for size in body_sizes_pt(sheet))
    finally:
        document.close()
    assert smallest >= 0.85 * 12  # the fields' names, at 0.85 of a text of 12 pt at least


def body_sizes_pt(sheet: Any) -> set[float]:
    """Return the sizes of type on a page, without the foot."""
    text = sheet.get_textpage()
    sizes = set()
    for i in range(text.count_chars()):
        _, bottom, _, _ = text.get_charbox(i)
        if bottom > 18 / 25.4 * 72 - 6 and text.get_text_range(i, 1).strip():
            sizes.add(round(pdfium.FPDFText_GetFontSize(text.raw, ctypes.c_int(i)), 2))
    return sizes


@pytest.mark.parametrize("code", LANGUAGES)
def test_boxes_and_lines_do_not_run_into_each_other(goes_ahead: ClientSheet, code: str) -> None:
    """Lines of text on a page stand apart by at least the height of their type."""
    document = pypdfium2.PdfDocument(client_sheet_pdf(goes_ahead, code=code))
    try:
        for sheet in document:
            text = sheet.get_textpage()
            boxes = [text.get_rect(i) for i in range(text.count_rects())]
            for i, (left, bottom, right, top) in enumerate(boxes):
                for other in boxes[i + 1 :]:
                    across = min(right, other[2]) - max(left, other[0])
                    down = min(top, other[3]) - max(bottom, other[1])
                    assert across < 1.0 or down < 3.0  # pt: descenders may meet ascenders
    finally:
        document.close()


def test_the_same_sheet_makes_the_same_bytes(goes_ahead: ClientSheet) -> None:
    assert client_sheet_pdf(goes_ahead) == client_sheet_pdf(goes_ahead)


@pytest.mark.parametrize(
    "typed",
    ['#import "x.typ": *', "#panic(1)", "*bold* _it_ $x^2$", "= heading", "{low} {x}", "</b>"],
)
def test_what_was_typed_stays_text(goes_ahead: ClientSheet, read: Read, typed: str) -> None:
    sheet = replace(
        goes_ahead,
        client=typed,
        piercer=typed,
        note=typed,
        jewellery=Jewellery(1.2, 8.0, typed, typed),
        trips=(Trip(typed, goes_ahead.trips[0].days),),
    )
    pages, text = read(client_sheet_pdf(sheet))
    assert pages == 2
    for words in (
        f"{typed} · Left ear",
        f"Decided by {typed}.",
        f"Ends: {typed}.",
        f"On your trip ({typed}, ",
    ):
        assert plain(words) in text, words


# A studio's own words


def test_a_studio_s_words_stand_on_it(goes_ahead: ClientSheet, read: Read) -> None:
    changes = {
        "care.stays": "Keep the jewellery in until a doctor says otherwise.",
        "care.pets": "",
        "label.clean": "Clean hands, clean ear",
    }
    _, text = read(client_sheet_pdf(goes_ahead, changes=changes))
    assert changes["care.stays"] in text
    assert "Clean hands, clean ear" in text
    assert "pets" not in text


@pytest.mark.parametrize("code", LANGUAGES)
@pytest.mark.parametrize("caution", CAUTIONS, ids=lambda caution: caution.id)
def test_a_caution_taken_away_makes_no_sheet(
    goes_ahead: ClientSheet, code: str, caution: Any
) -> None:
    with pytest.raises(WordingError):
        client_sheet_pdf(goes_ahead, code=code, changes={caution.id: ""})


def test_words_that_take_three_pages_make_no_sheet(goes_ahead: ClientSheet) -> None:
    long = {s.id: "Words that go on and on. " * 16 for s in SENTENCES if not s.caution}
    assert client_sheet_pdf(goes_ahead, changes=long)
    with pytest.raises(TooLongError, match="more than 2 pages at 11 pt"):
        client_sheet_pdf(replace(goes_ahead, note="A reason. " * 300), changes=long)


# How it reads

GRADES = (textstat.flesch_kincaid_grade, textstat.smog_index, textstat.gunning_fog)


def test_the_english_sheet_reads_at_grade_8_or_below(goes_ahead: ClientSheet) -> None:
    said = page(goes_ahead, language("en"))
    lines = [line for part in (*said["sections"], *said["care"]) for line in part["lines"]]
    text = " ".join([*lines, said["decides"]])
    assert len(text.split()) > 400
    for grade in GRADES:
        assert grade(text) <= 8.0, grade.__name__


def test_a_grade_above_8_would_be_seen() -> None:
    hard = (
        "Notwithstanding individual physiological variability, epithelialisation of perforated "
        "auricular cartilage necessitates considerable uninterrupted immobilisation."
    )
    assert all(grade(hard) > 8.0 for grade in GRADES if grade is not textstat.smog_index)


# At the chair


BALLS = "ball, 3 mm across; disc, 4 mm across"


@pytest.mark.parametrize("code", LANGUAGES)
def test_what_went_in_stands_in_place_of_what_was_planned(
    goes_ahead: ClientSheet, read: Read, code: str
) -> None:
    one = Jewellery(1.2, 9.525, BALLS, "Ti-6Al-4V ELI, ASTM F136")
    words = language(code)
    sheet = replace(goes_ahead, went_in={"1": one})
    pages, text = read(client_sheet_pdf(sheet, code=code))
    assert pages <= 2
    assert words.say("label.in") in text
    assert words.say("label.planned") not in text
    assert f"{words.number(9.525)} mm" in text
    assert BALLS in text
    assert "Ti-6Al-4V ELI, ASTM F136" in text
    assert "10.31875" not in text
    both = page(replace(sheet, went_in={"A": one, "B": one}), words)
    headings = [section["heading"] for section in both["sections"]]
    assert headings[1:] == [f"{words.say('label.in')} (A)", f"{words.say('label.in')} (B)"]


@pytest.mark.parametrize("code", LANGUAGES)
def test_a_no_says_what_was_found_and_where_else(waits: ClientSheet, read: Read, code: str) -> None:
    found = NotHere(date(2031, 5, 4), "Invented Piercer", tuple(FOUND), ("the lobe", "the conch"))
    words = language(code)
    sheet = replace(waits, decided="not_here", not_here=found)
    pages, text = read(client_sheet_pdf(sheet, code=code))
    assert pages <= 2
    for sentence in (*FOUND.values(), NOTHING_AGAINST):
        assert plain(words.say(sentence.id)) in text
    assert plain(words.say("found.elsewhere", places="the lobe, the conch")) in text
    alone = page(replace(sheet, not_here=replace(found, elsewhere=())), words)
    assert not [line for line in alone["sections"][0]["lines"] if "the lobe" in line]
    ahead = page(replace(sheet, decided="waits"), words)
    assert words.say(NOTHING_AGAINST.id) not in ahead["sections"][0]["lines"]


def test_a_wish_is_noted_and_not_promised(goes_ahead: ClientSheet, read: Read) -> None:
    _, text = read(client_sheet_pdf(replace(goes_ahead, wish="a ring")))
    assert "You would like to wear later: a ring. What fits shows once it has healed." in text


def test_every_finding_has_its_sentence() -> None:
    assert set(FOUND) == set(get_args(Finding))
