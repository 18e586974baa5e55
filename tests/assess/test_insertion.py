"""Stock and what happens at the chair.  All names and lots are invented."""

from dataclasses import replace
from datetime import date, datetime

import pytest

from assess.ends import End
from assess.insertion import (
    Assessed,
    Declined,
    Insertion,
    NotHere,
    OpenedUnused,
    RecordError,
    insert,
    measure_again,
)
from assess.stock import MATERIAL_STANDARDS, Stock, StockError, StockItem

BALL, DISC = End("ball", 3.0, 3.0), End("disc", 4.0, 1.0)
DAY, DRAWN = date(2031, 5, 4), datetime(2031, 5, 4, 10, 0)
AT = datetime(2031, 5, 4, 11, 30)
ASSESSED = Assessed("7", DAY, DRAWN, "Invented Piercer")


def post(key: str = "a", count: int = 3, **other: object) -> StockItem:
    base = StockItem(
        key,
        "labret",
        1.2,
        9.525,
        (BALL, DISC),
        "Ti-6Al-4V ELI",
        "ASTM F136",
        "LOT-INVENTED-1",
        "B-12",
        count,
        sterile_until=date(2031, 12, 31),
    )
    return replace(base, **other)  # type: ignore[arg-type]


STOCK = Stock((post(), post("b", 1, length_mm=11.1125, lot="LOT-INVENTED-2")))


def counts(stock: Stock) -> dict[str, int]:
    return {item.key: item.count for item in stock.items}


def test_stock_goes_down_at_insertion_by_what_went_in_and_what_was_opened() -> None:
    opened = (OpenedUnused("a", "dropped"),)
    record, left = insert(
        STOCK,
        ASSESSED,
        AT,
        "Invented Piercer",
        {"A": "a", "B": "b"},
        dots_drawn=DRAWN,
        opened_unused=opened,
    )
    assert counts(left) == {"a": 1, "b": 0}
    assert counts(STOCK) == {"a": 3, "b": 1}  # nothing happens before
    assert [(p.label, p.lot, p.length_mm) for p in record.put_in] == [
        ("A", "LOT-INVENTED-1", 9.525),
        ("B", "LOT-INVENTED-2", 11.1125),
    ]
    assert record.lacks_baseline
    assert not replace(record, baseline_photo="after.jpg").lacks_baseline


def test_what_is_not_there_can_not_go_in() -> None:
    with pytest.raises(StockError, match="none left"):
        insert(STOCK, ASSESSED, AT, "P", {"A": "b", "B": "b"}, dots_drawn=DRAWN)
    with pytest.raises(StockError, match="nothing in stock"):
        insert(STOCK, ASSESSED, AT, "P", {"A": "c"}, dots_drawn=DRAWN)
    old = Stock((post(sterile_until=date(2031, 5, 3)),))
    assert not old.item("a").usable(AT.date())
    with pytest.raises(RecordError, match="no longer sterile"):
        insert(old, ASSESSED, AT, "P", {"A": "a"}, dots_drawn=DRAWN)


@pytest.mark.practice("common practice, no source")
@pytest.mark.parametrize(
    ("other", "reason"),
    [
        ({"style": "ring"}, "ring"),
        ({"style": "curved bar"}, "curved bar"),
        ({"ends": (End("pointed", 2.0, 4.0), DISC)}, "pointed end"),
        ({"thread": "external"}, "outside thread"),
    ],
)
def test_what_is_unsuitable_to_begin_with_can_not_go_in(
    other: dict[str, object], reason: str
) -> None:
    stock = Stock((post(**other),))
    assert not stock.item("a").usable(AT.date())
    with pytest.raises(RecordError, match=reason):
        insert(stock, ASSESSED, AT, "P", {"A": "a"}, dots_drawn=DRAWN)


def test_an_old_assessment_or_new_dots_ask_to_be_measured_again() -> None:
    assert measure_again(ASSESSED, DAY, DRAWN) == ()
    assert measure_again(ASSESSED, date(2031, 5, 5), DRAWN) == ("old",)
    redrawn = datetime(2031, 5, 4, 11, 0)
    assert measure_again(ASSESSED, DAY, redrawn) == ("dots drawn anew",)
    assert measure_again(ASSESSED, DAY, DRAWN, changed=True) == ("tissue changed",)
    with pytest.raises(RecordError, match="measure again: dots drawn anew"):
        insert(STOCK, ASSESSED, AT, "P", {"A": "a"}, dots_drawn=redrawn)


def test_what_really_happened_is_recorded_with_its_reason() -> None:
    """The piercer decides: a question that was open is kept beside the answer."""
    record, left = insert(
        Stock((post(style="curved bar"),)),
        ASSESSED,
        datetime(2031, 5, 6, 9, 0),
        "P",
        {"A": "a"},
        dots_drawn=DRAWN,
        because="client travels; dots still there, channel read again with calipers",
    )
    assert record.in_spite_of == ("measure again: old", "a: curved bar")
    assert record.because
    assert counts(left) == {"a": 2}


def test_declining_needs_no_fresh_measure_and_takes_nothing() -> None:
    no = (Declined("A", "wants to think about it", "client"),)
    record, left = insert(
        STOCK, ASSESSED, datetime(2031, 6, 1), "P", {}, dots_drawn=DRAWN, declined=no
    )
    assert left == STOCK
    assert record.declined == no
    assert not record.lacks_baseline


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"pierced_by": " "}, "who pierced"),
        ({"declined": (Declined("A", "no", "client"), Declined("A", "no", "client"))}, "twice"),
        ({"declined": (Declined("A", " ", "piercer"),)}, "why"),
        ({"declined": ()}, "what was put in"),
        ({"assessed": replace(ASSESSED, confirmed_by="")}, "confirmed"),
    ],
)
def test_a_record_says_who_what_and_why(change: dict[str, object], said: str) -> None:
    whole = Insertion(ASSESSED, AT, "P", (), declined=(Declined("A", "no", "client"),))
    with pytest.raises(RecordError, match=said):
        replace(whole, **change)  # type: ignore[arg-type]


def test_stock_that_comes_in_adds_up_but_another_lot_is_another_item() -> None:
    more = STOCK.received(post(count=5))
    assert counts(more) == {"a": 8, "b": 1}
    with pytest.raises(StockError, match="its own key"):
        STOCK.received(post(lot="LOT-INVENTED-9"))
    assert counts(STOCK.received(post("c", 2))) == {"a": 3, "b": 1, "c": 2}
    assert [item.key for item in STOCK.recalled("LOT-INVENTED-2")] == ["b"]
    for wrong in ({"count": -1}, {"lot": " "}, {"gauge_mm": 0.0}):
        with pytest.raises(StockError):
            post(**wrong)
    with pytest.raises(StockError, match="same key"):
        Stock((post(), post()))


@pytest.mark.published(
    source="scopes of ASTM F136-13 and F1295-16; ISO 5832-11:2014", where="the alloys they name"
)
def test_implant_grade_means_the_materials_own_standard() -> None:
    assert post().implant_grade
    assert not post(standard="ASTM F1295").implant_grade
    assert post(material="Ti-6Al-7Nb", standard="ASTM F1295").implant_grade
    assert not post(material="unknown steel", standard="ASTM F138").implant_grade
    assert MATERIAL_STANDARDS["Ti-6Al-4V ELI"][1] == "ISO 5832-3"


def test_not_here_says_who_found_what() -> None:
    kept = NotHere(DAY, "P", ("soft tissue",), ("flat of the ear",))
    assert kept.elsewhere == ("flat of the ear",)
    with pytest.raises(RecordError, match="what was found"):
        NotHere(DAY, "P", ())
    with pytest.raises(RecordError, match="who decided"):
        NotHere(DAY, "", ("soft tissue",))
