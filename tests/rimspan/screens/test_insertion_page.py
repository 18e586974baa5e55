"""The insertion page: what really went in, the photo right after, and 'not here'.  All invented."""

from __future__ import annotations

from typing import Any

import pypdfium2
import pytest
from streamlit.testing.v1 import AppTest

from rimspan.client_papers import Chosen, client_sheet_of
from rimspan.clientfile import Role
from rimspan.insertions import sittings
from rimspan.not_here import wish_of
from rimspan.stock_keeping import receive, stock_of
from tests.rimspan.clientfile.made import noise
from tests.rimspan.screens.conftest import ALEX
from tests.rimspan.test_insertions import ITEM, LONGER


@pytest.fixture
def signed(measured: Any) -> Any:
    """Return a visit with a signed assessment and posts in stock."""
    measured.open("sign")
    measured.at.checkbox[0].check()
    measured.press("Save the assessment")
    (by,) = measured.file.people.all()
    receive(measured.file, by, ITEM, "first")
    receive(measured.file, by, LONGER, "second")
    return measured


def choose(at: AppTest, label: str, value: object) -> None:
    next(each for each in at.get("button_group") if each.label == label).set_value(value).run()


def went_in(signed: Any) -> None:
    """Say that the first post of the stock went in."""
    choose(signed.at, "The placement", "in")
    next(box for box in signed.at.selectbox if box.label == "Which post").select_index(0).run()


def test_what_went_in_is_kept_and_counted_down(signed: Any) -> None:
    signed.open("insertion")
    choose(signed.at, "The placement", "in")
    box = next(each for each in signed.at.selectbox if each.label == "Which post")
    assert "9.53 mm (3/8 in)" in box.options[0]
    assert box.value is None  # the answer chose a length that isn't in stock
    signed.press("Keep what happened")
    assert sittings(signed.file, signed.client) == []
    went_in(signed)
    signed.press("Keep what happened")
    assert "Kept. The stock is counted down." in signed.words
    (sitting,) = sittings(signed.file, signed.client)
    assert [put.stock_key for put in sitting.insertion.put_in] == ["1"]
    assert sitting.insertion.pierced_by == ALEX
    assert [item.count for item in stock_of(signed.file).stock.items] == [2, 1]
    assert "labret 1.2 mm, 9.53 mm (3/8 in)" in signed.words
    assert "No photo right after was taken so far." in signed.words
    assert not [b for b in signed.at.button if b.label == "Keep what happened"]
    signed.open("timeline")
    assert "LOT-INVENTED-1" in signed.words
    assert f"Pierced by: {ALEX}" in signed.words
    signed.press("What went in, and the photo right after")
    assert signed.title == "Insertion"


def test_without_a_word_nothing_is_kept(signed: Any) -> None:
    signed.open("insertion")
    signed.press("Keep what happened")
    assert "Say what was put in, opened or declined." in signed.words
    assert sittings(signed.file, signed.client) == []


def test_dots_drawn_anew_ask_for_measuring_again(signed: Any) -> None:
    signed.open("insertion")
    went_in(signed)
    next(c for c in signed.at.checkbox if "drawn anew" in c.label).check()
    signed.run()
    assert "Measure again before anything goes in: the dots were drawn anew since" in signed.words
    signed.press("Keep what happened")
    assert sittings(signed.file, signed.client) == []
    next(t for t in signed.at.text_input if t.label == "Why you go ahead").input("read again")
    signed.press("Keep what happened")
    (sitting,) = sittings(signed.file, signed.client)
    assert sitting.insertion.because == "read again"
    assert "In spite of: measure again: dots drawn anew" in signed.words


def test_a_time_that_is_none_keeps_nothing(signed: Any) -> None:
    signed.open("insertion")
    went_in(signed)
    next(t for t in signed.at.text_input if t.label.startswith("Time")).input("soon")
    signed.press("Keep what happened")
    assert "The time isn't as 14:05; nothing was kept." in signed.words
    assert sittings(signed.file, signed.client) == []


def test_a_placement_that_is_declined_takes_nothing_from_the_stock(signed: Any) -> None:
    signed.open("insertion")
    choose(signed.at, "The placement", "declined")
    next(t for t in signed.at.text_input if t.label == "Why not").input("not <b>today</b>")
    choose(signed.at, "Whose decision", "client")
    signed.press("Keep what happened")
    (sitting,) = sittings(signed.file, signed.client)
    assert [(d.reason, d.by) for d in sitting.insertion.declined] == [
        ("not <b>today</b>", "client")
    ]
    assert stock_of(signed.file).number == 2
    assert "<b>today</b>" not in "".join(str(m.value) for m in signed.at.markdown)


def test_an_apprentice_reads_and_records_nothing(signed: Any) -> None:
    signed.signs_in("Sam Invented", Role.APPRENTICE)
    signed.run()
    signed.at.session_state["client"] = signed.client
    signed.open("insertion")
    assert "A piercer records what went in." in signed.words
    assert [b.label for b in signed.at.button if b.label.startswith("Keep")] == ["Keep the wish"]


def test_the_photo_right_after_is_kept_beside_it_and_not_in_the_draft(signed: Any) -> None:
    signed.open("insertion")
    went_in(signed)
    signed.press("Keep what happened")
    draft = signed.draft()

    def script() -> None:
        import streamlit as st

        from rimspan.insertions import sittings
        from rimspan.screens import insertion_parts
        from rimspan.screens.store import client_file

        (sitting,) = sittings(client_file(), st.session_state["client"])
        insertion_parts.photo_came(
            st.session_state["client"], sitting, "after.jpg", st.session_state["data"], "once"
        )

    other = AppTest.from_function(script)
    other.session_state["client"], other.session_state["data"] = signed.client, noise(7, 32)
    other.run()
    assert not other.exception
    (sitting,) = sittings(signed.file, signed.client)
    assert len(sitting.baseline) == 1
    assert signed.draft() == draft
    signed.open("insertion")
    assert "A photo taken right after." in signed.words


def test_not_here_is_kept_with_what_was_talked_about(signed: Any) -> None:
    signed.open("insertion")
    signed.press("Keep: not here")
    assert "Say what was found; nothing was kept." in signed.words
    choose(signed.at, "What was found", ["soft tissue"])
    signed.at.text_input(key="elsewhere").input("the lobe, the <b>conch</b>")
    signed.press("Keep: not here")
    (record,) = signed.file.records("not_here", signed.client)
    assert record.document["elsewhere"] == ["the lobe", "the <b>conch</b>"]
    assert record.document["revision"] == "1"
    signed.open("timeline")
    assert "This place isn't the one for it: soft tissue." in signed.words
    assert "<b>conch</b>" not in "".join(str(m.value) for m in signed.at.markdown)


def test_not_here_needs_no_assessment(measured: Any) -> None:
    measured.open("insertion")
    assert "Nothing is signed that counts." in measured.words
    choose(measured.at, "What was found", ["rim too narrow"])
    measured.press("Keep: not here")
    measured.open("timeline")
    assert "Not here, left ear (no assessment was saved)." in measured.words


def test_a_void_assessment_is_not_offered(signed: Any) -> None:
    (revision,) = signed.file.revisions(signed.client)
    signed.file.void_revision(revision.id, ALEX, "the wrong ear")
    signed.open("insertion")
    assert "Nothing is signed that counts." in signed.words


def test_a_wish_for_later_is_kept(signed: Any) -> None:
    signed.open("insertion")
    next(t for t in signed.at.text_input if "wear there later" in t.label).input("a ring")
    signed.press("Keep the wish")
    assert wish_of(signed.file, signed.client) == "a ring"


def sheet(signed: Any, **chosen: Any) -> str:
    """Return the words of the client's sheet, as another library reads them."""
    (revision,) = signed.file.revisions(signed.client)
    pages = pypdfium2.PdfDocument(client_sheet_of(signed.file, revision, Chosen(**chosen), None))
    return " ".join(" ".join(page.get_textpage().get_text_range() for page in pages).split())


def test_the_client_s_sheet_says_what_really_went_in(signed: Any) -> None:
    assert "What is in" not in sheet(signed, decided="goes_ahead")
    signed.open("insertion")
    went_in(signed)
    signed.press("Keep what happened")
    english, german = (sheet(signed, decided="goes_ahead", code=code) for code in ("en", "de"))
    assert "What is in" in english
    assert "(3/8 in)" in english
    assert "ball, 3 mm across; disc, 4 mm across" in english
    assert "Kugel, 3 mm breit; Scheibe, 4 mm breit" in german
    for words in (english, german):
        assert "Ti-6Al-4V ELI, ASTM F136" in words


def test_the_client_s_sheet_says_a_no_kindly(signed: Any) -> None:
    signed.open("insertion")
    choose(signed.at, "What was found", ["soft tissue"])
    signed.at.text_input(key="elsewhere").input("the lobe")
    signed.press("Keep: not here")
    words = sheet(signed, decided="not_here")
    assert "The rim is soft here and would not hold a post well." in words
    assert "That says nothing against your ear." in words
    assert "We talked about other places: the lobe." in words
    assert "the lobe" not in sheet(signed, decided="waits")
