"""The one-page sheet: what stands on it, that it is one page, and that text stays text."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pypdfium2
import pytest

from assess.result import Result
from rimspan.sheets.report import report_pdf
from rimspan.typed import shown

Make = Callable[..., Result]
MakePlacement = Callable[..., dict[str, Any]]


@dataclass(frozen=True)
class Confirmed:
    """Stands for a confirmation: a page needs only these."""

    piercer: str = "Demo Piercer (invented)"
    digest: str = "0123456789abcdef" * 4
    statement: str = "I examined this ear and I decide."


@dataclass(frozen=True)
class Measured:
    result: dict[str, Any]
    digest: str = "0123456789abcdef" * 4


def sheet(result: Result, picture: bytes, **given: Any) -> bytes:
    confirmed = Confirmed(**{k: given.pop(k) for k in ("piercer",) if k in given})
    measured: Any = Measured(result.model_dump(mode="json"))
    return report_pdf(measured, confirmed, picture, **given)  # type: ignore[arg-type]


def read(pdf: bytes) -> tuple[int, str]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        text = "\n".join(document[i].get_textpage().get_text_range() for i in range(len(document)))
        return len(document), " ".join(text.split())
    finally:
        document.close()


def test_the_sheet_says_what_was_measured_and_who_decides(
    make_result: Make, picture: bytes
) -> None:
    pages, text = read(sheet(make_result(), picture, client="Client 7", date="1 May 2026"))
    assert pages == 1
    for words in (
        "7.0 mm, between 6.2 and 7.9",
        "12 deg, between 6 and 18",
        "one view",
        "Ear left",
        "Client 7",
        "1 May 2026",
        "10.32 mm (13/32 in) long",
        "No length in stock suits.",
        "common practice",
        "The piercer who examines the ear decides.",
        "Decided by Demo Piercer (invented).",
        "I examined this ear and I decide.",
        "no diagnosis",
        "same day",
        "seed 1",
        "rimspan 0.1.0",
    ):
        assert words in text, words


def test_without_a_client_or_a_date_the_sheet_names_neither(
    make_result: Make, picture: bytes
) -> None:
    _, text = read(sheet(make_result(), picture))
    assert "Client" not in text
    assert "Date" not in text
    assert "Measured by" not in text


def test_the_same_assessment_makes_the_same_bytes(make_result: Make, picture: bytes) -> None:
    assert sheet(make_result(), picture) == sheet(make_result(), picture)


@pytest.mark.parametrize(("count", "most"), [(1, 1), (8, 4)])
def test_a_full_sheet_says_first_what_was_decided(
    make_result: Make, make_placement: MakePlacement, picture: bytes, count: int, most: int
) -> None:
    reason = make_placement()["reasons"][0]
    reason["sentence"] = "A sentence as long as the longest of the criteria, with its remedy. " * 2
    many = [make_placement(f"p{i}", reasons=[reason] * 7) for i in range(count)]
    document = pypdfium2.PdfDocument(sheet(make_result(*many), picture))
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in document]
    assert (len(texts) == 1) == (count == 1)
    assert len(texts) <= most
    for words in ("Decided by", "no diagnosis", "same day", "Limits are"):
        assert words in texts[0], words
    assert all(f"Placement p{i}" in " ".join(texts) for i in range(count))


HOSTILE = [
    '#import "x.typ": *',
    "#panic(1)",
    "*bold* _it_ `code` $x^2$",
    "@cite <label> ] } )",
    "//comment /* x */",
    "= heading",
    "\\",
    '"quoted"',
    "</script><b>",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_markup_in_names_is_shown_as_text(
    make_result: Make, make_placement: MakePlacement, picture: bytes, name: str
) -> None:
    result = make_result(make_placement(label=name))
    pages, text = read(sheet(result, picture, piercer=name, client=name))
    straight = text.translate(str.maketrans("“”‘’", "\"\"''"))
    assert pages == 1
    assert f"Client {name}" in straight
    assert f"Placement {name}" in straight
    assert f"Decided by {name}." in straight


@pytest.mark.parametrize("mark", ["\u202e", "\u2066", "\u200f", "\u0007", "\x00"])
def test_marks_that_turn_the_text_are_named(make_result: Make, picture: bytes, mark: str) -> None:
    _, text = read(sheet(make_result(), picture, piercer=f"Ann{mark}Example"))
    assert f"Ann[U+{ord(mark):04X}]Example" in text
    assert mark not in text


def test_line_breaks_become_spaces() -> None:
    assert shown("one\n\ttwo  three\u2028four ") == "one two three four"
    assert shown("95\u00a0%") == "95\u00a0%"


@pytest.mark.parametrize("name", ["Ünal Øst", "你好", "שלום", "😀"])
def test_other_scripts_make_a_sheet(make_result: Make, picture: bytes, name: str) -> None:
    """Letters come from the machine's fonts, so only that the sheet is made is sure."""
    pages, _ = read(sheet(make_result(), picture, client=name))
    assert pages == 1


def test_a_letter_that_hardly_a_font_has_stops_no_sheet(make_result: Make, picture: bytes) -> None:
    pdf = sheet(make_result(), picture, client="Invented \U00014400 \U00016a40 \U00016f00")
    assert b"/StructTreeRoot" in pdf


@pytest.mark.memory(source="ISO 14289-1:2014 (PDF/UA-1), 7.1 and 7.2: tags, title, language")
def test_the_sheet_is_tagged_with_a_title_and_a_language(make_result: Make, picture: bytes) -> None:
    pdf = sheet(make_result(), picture)
    assert b"/StructTreeRoot" in pdf
    assert b"/MarkInfo" in pdf
    assert b"/Lang" in pdf
    assert b"pdfuaid" in pdf
    document = pypdfium2.PdfDocument(pdf)
    try:
        assert document.get_metadata_value("Title") == "Rim assessment, left ear"
        assert document.is_tagged()
        assert not document.get_metadata_value("CreationDate")
    finally:
        document.close()


@pytest.mark.memory(source="ISO 216: A4 is 210 mm x 297 mm; Letter is 8.5 in x 11 in")
@pytest.mark.parametrize(
    ("paper", "size_mm"), [("a4", (210.0, 297.0)), ("us-letter", (215.9, 279.4))]
)
def test_the_page_has_its_paper_and_shows_the_picture(
    make_result: Make, picture: bytes, paper: str, size_mm: tuple[float, float]
) -> None:
    document = pypdfium2.PdfDocument(sheet(make_result(), picture, paper=paper))
    try:
        assert len(document) == 1
        width, height = document[0].get_size()
        page = document[0].render(scale=1).to_pil().convert("RGB")
    finally:
        document.close()
    assert (width / 72 * 25.4, height / 72 * 25.4) == pytest.approx(size_mm, abs=0.1)
    green = sum(
        count
        for count, (r, g, b) in page.getcolors(page.width * page.height) or []
        if abs(r - 10) < 9 and abs(g - 200) < 9 and abs(b - 30) < 9
    )
    assert green / (page.width * page.height) > 0.15


def test_no_part_of_it_touches_the_disk(make_result: Make, picture: bytes) -> None:
    """A client's photo and name are on it: not for a moment may they lie in a temporary file."""
    watching, opened = [True], []

    def watch(event: str, given: tuple[Any, ...]) -> None:
        if not watching or event != "open":
            return
        path, mode, flags = given
        if (mode and set(mode) & set("wax+")) or (flags or 0) & (os.O_WRONLY | os.O_RDWR):
            opened.append(path)

    sys.addaudithook(watch)  # stays, so it is told when to rest
    try:
        sheet(make_result(), picture, client="Client 7")
        assert opened == []
        with open(os.devnull, "wb"):  # noqa: PTH123  (that the hook sees what is opened)
            assert opened == [os.devnull]
    finally:
        watching.clear()
