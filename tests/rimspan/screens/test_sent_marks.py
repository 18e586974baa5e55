"""A document of the marking counts once, however often and late it comes."""

from __future__ import annotations

from typing import Any

from rimspan.screens.document import Document, changed, entry, measurable, new_document, with_photo
from rimspan.screens.sent_marks import HANDS, held_of, is_new, with_sent, without_undo

SHA = "a" * 64


def draft() -> Document:
    return with_photo(new_document("left"), "ear.jpg", SHA)


def sent(n: int, x: float, hand: str = "one", past: int = 1) -> dict[str, Any]:
    marks = {"outer_rim": [[x, 2.0], [3.0, 4.0]]}
    step = {"marks": {}, "step": "outer_rim", "label": "1"}
    undo = {"past": [step] * past, "future": []}
    return {"rev": n, "photo": "ear.jpg", "hand": hand, "n": n, "marks": marks, "undo": undo}


def knowing(document: Document, held: dict[str, Any]) -> dict[str, Any]:
    """Return what a hand sends that began on the marks that are there: they are its first step."""
    there = {"outer_rim": entry(document, "ear.jpg").get("outer_rim", [])}
    held["undo"]["past"] = [{"marks": there, "step": "entry", "label": "1"}, *held["undo"]["past"]]
    return held


def first_x(document: Document) -> float:
    return float(entry(document, "ear.jpg")["outer_rim"][0][0])


def test_a_document_is_taken_once() -> None:
    once = with_sent(draft(), SHA, sent(1, 10.0))
    assert first_x(once) == 10.0
    assert with_sent(once, SHA, sent(1, 10.0)) == once
    later = with_sent(once, SHA, sent(3, 30.0))
    assert first_x(with_sent(later, SHA, sent(2, 20.0))) == 30.0


def test_an_old_document_does_not_undo_another_hands_work() -> None:
    document = with_sent(draft(), SHA, sent(5, 10.0, "one"))
    document = with_sent(document, SHA, knowing(document, sent(1, 20.0, "two")))
    assert first_x(document) == 20.0
    assert first_x(with_sent(document, SHA, sent(5, 10.0, "one"))) == 20.0


def test_marks_that_a_hand_never_saw_stay_and_it_is_heard_once() -> None:
    document = with_sent(draft(), SHA, sent(5, 10.0, "one"))
    document = with_sent(document, SHA, knowing(document, sent(1, 20.0, "two")))
    unseen = with_sent(document, SHA, sent(6, 11.0, "one"))
    assert first_x(unseen) == 20.0
    assert held_of(entry(unseen, "ear.jpg"))["last"] == "two"
    assert not is_new(entry(unseen, "ear.jpg"), sent(6, 11.0, "one"))
    assert with_sent(unseen, SHA, sent(6, 11.0, "one")) == unseen
    assert first_x(with_sent(unseen, SHA, knowing(unseen, sent(7, 11.0, "one")))) == 11.0


def test_the_marking_is_told_what_was_kept() -> None:
    document = with_sent(draft(), SHA, sent(5, 10.0, "one"))
    document = with_sent(document, SHA, knowing(document, sent(2, 20.0, "two", past=2)))
    held = held_of(entry(document, "ear.jpg"))
    assert held["heard"] == {"one": 5, "two": 2}
    assert held["last"] == "two"
    assert len(held["undo"]["past"]) == 3
    assert held_of({"file": "new.jpg"}) == {
        "heard": {},
        "last": None,
        "undo": {"past": [], "future": []},
    }
    assert is_new(entry(document, "ear.jpg"), sent(3, 1.0, "two"))
    assert not is_new(entry(document, "ear.jpg"), sent(2, 1.0, "two"))


def test_only_the_last_hands_are_remembered() -> None:
    document = draft()
    for number in range(HANDS + 3):
        sending = sent(1, float(number), f"hand {number}")
        document = with_sent(document, SHA, knowing(document, sending))
    document = with_sent(document, SHA, knowing(document, sent(2, 0.5, "hand 5")))
    heard = held_of(entry(document, "ear.jpg"))["heard"]
    assert list(heard) == [f"hand {n}" for n in (3, 4, *range(6, HANDS + 3), 5)]


def test_marks_of_a_photo_that_was_taken_out_change_nothing() -> None:
    document = draft()
    assert with_sent(document, "b" * 64, sent(1, 10.0)) == document


def test_the_same_marks_again_stay_signed() -> None:
    document = changed(with_sent(draft(), SHA, sent(1, 10.0)))
    signed = document | {"x_saved": {"id": "1", "number": 1}}
    same = with_sent(signed, SHA, sent(3, 10.0))
    assert same["x_token"] == signed["x_token"]
    assert same["x_saved"] == signed["x_saved"]
    assert held_of(entry(same, "ear.jpg"))["heard"] == {"one": 3}
    other = with_sent(signed, SHA, sent(3, 11.0))
    assert other["x_token"] != signed["x_token"]
    assert "x_saved" not in other


def test_what_lies_beside_the_marks_is_never_measured() -> None:
    document = with_sent(draft(), SHA, sent(1, 10.0))
    (photo,) = measurable(document)["photos"]
    assert set(photo) == {"file", "outer_rim", "placements"}
    assert photo["outer_rim"] == [[10.0, 2.0], [3.0, 4.0]]


def test_undo_can_be_dropped() -> None:
    document = with_sent(draft(), SHA, sent(1, 10.0))
    dropped = without_undo(document)
    assert held_of(entry(dropped, "ear.jpg"))["undo"] == {"past": [], "future": []}
    assert first_x(dropped) == 10.0
    assert dropped["x_token"] == document["x_token"]
