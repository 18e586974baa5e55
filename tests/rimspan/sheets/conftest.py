"""Invented sheets for clients, and a reader of PDFs that isn't the writer."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pypdfium2
import pytest
from PIL import Image

from assess.result import PlacementOut
from assess.talk.outcome import Given, together
from assess.talk.plan import CHECK, Trip, plan_from
from assess.talk.questions import QUESTIONS
from assess.talk.spans import Days
from rimspan.sheets.client_sheet import ClientSheet, Jewellery

DAY = date(2026, 3, 2)
BERLIN = ZoneInfo("Europe/Berlin")
LAKE = Trip("lake", Days(date(2026, 8, 3), date(2026, 8, 14)))
EASTER = Trip("Easter", Days(date(2026, 4, 3), date(2026, 4, 6)))


@pytest.fixture(scope="session")
def read() -> Callable[[bytes], tuple[int, str]]:
    """Return a reader: number of pages, and the words with plain blanks and quotes."""

    def reading(pdf: bytes) -> tuple[int, str]:
        document = pypdfium2.PdfDocument(pdf)
        try:
            texts = [document[i].get_textpage().get_text_range() for i in range(len(document))]
            return len(document), plain("\n".join(texts))
        finally:
            document.close()

    return reading


def plain(text: str) -> str:
    """Return text with plain blanks and quotes, as it is compared."""
    return " ".join(text.translate(str.maketrans("“”‘’„", '""\'\'"')).split())


@pytest.fixture(scope="session")
def picture() -> bytes:
    stream = io.BytesIO()
    Image.new("RGB", (1600, 1240), (10, 200, 30)).save(stream, "PNG")
    return stream.getvalue()


@pytest.fixture
def goes_ahead(make_placement: Callable[..., dict[str, Any]]) -> ClientSheet:
    answers = {question.id: Given((question.answers[0].id,)) for question in QUESTIONS}
    answers |= {"ask.touches": Given(("phone", "mask")), "ask.sleep": Given(("turns",))}
    return ClientSheet(
        "goes_ahead",
        "left",
        "Demo Piercer (invented)",
        DAY,
        client="Demo Client (invented)",
        guardian=True,
        placement=PlacementOut.model_validate(make_placement(verdict="supports")),
        answers=together(QUESTIONS, answers),
        note="Moved up by a hair, away from the fold.",
        jewellery=Jewellery(1.2, 10.31875, "flat discs, 4 mm", "titanium, ASTM F136"),
        pierced=True,
        plan=plan_from(DAY),
        trips=(LAKE, EASTER),
        times={CHECK: datetime(2026, 3, 18, 14, 30, tzinfo=BERLIN)},
    )


@pytest.fixture
def waits() -> ClientSheet:
    until = date(2026, 9, 1)
    answers = together(QUESTIONS, {"ask.trip": Given(("swim",), until)})
    return ClientSheet(
        "waits", "right", "Demo Piercer (invented)", DAY, until=until, answers=answers
    )
