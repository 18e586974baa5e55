"""The stock page, and what a draft's posts say of the stock; lots and makes are invented."""

from __future__ import annotations

from typing import Any

from rimspan.clientfile import Role
from rimspan.stock_keeping import receive, stock_of
from tests.rimspan.test_insertions import ITEM, LONGER


def test_posts_are_taken_in_and_stand_there(visit: Any) -> None:
    visit.open("stock")
    assert "No stock is kept yet." in visit.words
    visit.at.text_input(key="stock lot").input("LOT-INVENTED-<b>1</b>")
    visit.at.text_input(key="stock batch").input("B-12")
    visit.at.number_input(key="stock count").set_value(3)
    visit.press("Take them in")
    (item,) = stock_of(visit.file).stock.items
    assert (item.key, item.count, item.length_mm) == ("1", 3, 9.525)
    assert (item.material, item.standard) == ("Ti-6Al-4V ELI", "ASTM F136")
    assert "LOT-INVENTED-<b>1</b>" in visit.words  # as text: the words are unescaped here
    assert "<b>1</b>" not in "".join(str(m.value) for m in visit.at.markdown)
    assert "Taken in: 3." in visit.words


def test_what_lacks_a_lot_is_refused_with_the_reason(visit: Any) -> None:
    visit.open("stock")
    visit.press("Take them in")
    assert "lot must be told" in visit.words
    assert stock_of(visit.file).number == 0


def test_a_number_is_set_with_a_reason(visit: Any) -> None:
    receive(visit.file, visit.signs_in(), ITEM, "first")
    visit.open("stock")
    visit.at.number_input(key="count number").set_value(2)
    visit.press("Set the number")
    assert "Say why the number differs." in visit.words
    visit.at.text_input(key="count why").input("one fell")
    visit.at.number_input(key="count number").set_value(2)
    visit.press("Set the number")
    assert stock_of(visit.file).stock.items[0].count == 2
    assert stock_of(visit.file).number == 2


def test_an_apprentice_reads_it(visit: Any) -> None:
    receive(visit.file, visit.signs_in(), ITEM, "first")
    visit.signs_in("Sam Invented", Role.APPRENTICE)
    visit.open("stock")
    assert "LOT-INVENTED-1" in visit.words
    assert "Piercers and managers change the stock" in visit.words
    assert [b.label for b in visit.at.button if "them" in b.label or "number" in b.label] == []


def test_what_is_no_implant_material_says_so(visit: Any) -> None:
    from dataclasses import replace

    other = replace(ITEM, material="some alloy", standard="none told")
    receive(visit.file, visit.signs_in(), other, "first")
    visit.open("stock")
    assert "isn't one that is known for implants" in visit.words


def test_a_draft_measured_by_hand_takes_the_stock(visit: Any) -> None:
    by = visit.signs_in()
    visit.consult(document={"posts": [{"gauge_mm": 1.2, "lengths_mm": [8.0]}]})
    visit.file.save_draft(
        visit.client,
        "left",
        {"photos": [{"file": "a.jpg", "x_sha256": "0" * 64}], "caliper": {}, "examined": {}},
    )
    receive(visit.file, by, ITEM, "first")
    receive(visit.file, by, LONGER, "second")
    script = """
from rimspan.screens import post_stock, state
post_stock.posts(state.document())
"""
    from streamlit.testing.v1 import AppTest

    at = AppTest.from_string(script, default_timeout=60)
    at.session_state["client"], at.session_state["side"] = visit.client, "left"
    at.run()
    next(b for b in at.button if b.label == "Take the posts of the stock").click().run()
    assert not at.exception
    assert visit.draft()["posts"] == [{"gauge_mm": 1.2, "lengths_mm": [9.525, 11.1125]}]
    assert "From the stock, version 2." in [c.value for c in at.caption]
    next(b for b in at.button if b.label == "Choose others by hand").click().run()
    assert "posts" not in visit.draft()
