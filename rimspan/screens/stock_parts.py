"""The parts of the stock page, and the posts of a draft on the marks page."""

from __future__ import annotations

from datetime import date

import streamlit as st

from assess.ends import End
from assess.posts import STEP_IN, inches_mm
from assess.stock import Stock, StockError, StockItem
from assess.wording import capital
from rimspan import stock_keeping
from rimspan.screens import chair, layout, state
from rimspan.screens.acting import act, spent, token
from rimspan.screens.stock_words import (
    HEADS,
    PAIRS,
    SHAPES,
    STYLES,
    THREADS,
    length_words,
    post_words,
    row,
)
from rimspan.screens.store import client_file
from rimspan.typed import in_markdown

LENGTHS = [inches_mm(n * STEP_IN) for n in range(6, 33)]
ANOTHER = ("another", "named below")


def table(stock: Stock, on: date) -> None:
    """Draw what is there."""
    head = "".join(f"<th>{name}</th>" for name in HEADS)
    rows = "".join(
        f"<tr>{''.join(_cells(row(item, item.against(on))))}</tr>" for item in stock.items
    )
    layout.html(
        f'<table class="rim-table"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'
    )


def _cells(cells: tuple[str, ...]) -> list[str]:
    return [f'<td data-of="{name}">{cell}</td>' for name, cell in zip(HEADS, cells, strict=True)]


def receive() -> None:
    """Draw the form for posts that came in."""
    with st.form("receive", border=True):
        st.markdown("**Posts that came in**")
        style, gauge, length, other = st.columns(4)
        style.selectbox("Style", STYLES, key="stock style")
        gauge.number_input("Gauge (mm)", 0.5, 3.0, 1.2, 0.1, "%.2f", key="stock gauge")
        length.selectbox("Length", LENGTHS, 6, format_func=length_words, key="stock length")
        other.number_input("or in mm, if another", 0.0, 40.0, 0.0, 0.1, "%.2f", key="stock mm")
        _end("Upper end", "upper", "ball", (3.0, 3.0))
        _end("Lower end", "lower", "disc", (4.0, 0.8))
        _material()
        lot, batch, until, count = st.columns(4)
        lot.text_input("Lot", key="stock lot", max_chars=60)
        batch.text_input("Sterilisation batch", key="stock batch", max_chars=60)
        until.date_input("Sterile until (empty: sterilised here)", None, key="stock until")
        count.number_input("How many", 1, 999, 1, key="stock count")
        st.form_submit_button("Take them in", on_click=_received, args=(token("receive"),))


def _end(label: str, name: str, shape: str, size: tuple[float, float]) -> None:
    which, wide, high = st.columns(3)
    which.selectbox(label, SHAPES, SHAPES.index(shape), key=f"stock {name}")
    wide.number_input(
        f"{label}: across (mm)", 0.1, 20.0, size[0], 0.1, "%.1f", key=f"stock {name} wide"
    )
    high.number_input(
        f"{label}: along the post (mm)", 0.1, 20.0, size[1], 0.1, "%.1f", key=f"stock {name} high"
    )


def _material() -> None:
    pair, thread = st.columns([2, 1])
    pair.selectbox("Material and standard", [*PAIRS, ANOTHER], format_func=_pair, key="stock pair")
    thread.selectbox("Thread", THREADS, key="stock thread")
    material, standard = st.columns(2)
    material.text_input("Another material", key="stock material", max_chars=60)
    standard.text_input("Its standard", key="stock standard", max_chars=60)


def _pair(pair: tuple[str, str]) -> str:
    return ", ".join(pair)


def _received(once: str) -> None:
    try:
        item = _item()
    except (StockError, ValueError) as error:
        state.say(in_markdown(capital(f"{error}; nothing was taken in.")))
        return
    if act(
        lambda: stock_keeping.receive(client_file(), chair.person(), item, once),
        f"Taken in: {item.count}.",
        "stock lot",
        "stock batch",
    ):
        spent("receive")


def _item() -> StockItem:
    def held(name: str) -> str:
        return str(state.value(f"stock {name}", "")).strip()

    def end(name: str) -> End:
        shape = state.value(f"stock {name}")
        wide, high = (float(state.value(f"stock {name} {which}")) for which in ("wide", "high"))
        return End(shape, wide, high)

    pair = tuple(state.value("stock pair") or ANOTHER)
    material, standard = (held("material"), held("standard")) if pair == ANOTHER else pair
    length = float(state.value("stock mm") or 0.0) or float(state.value("stock length"))
    return StockItem(
        stock_keeping.NEW,
        state.value("stock style"),
        float(state.value("stock gauge")),
        length,
        (end("upper"), end("lower")),
        material,
        standard,
        held("lot"),
        held("batch"),
        int(state.value("stock count")),
        state.value("stock thread"),
        state.value("stock until"),
    )


def count_anew(stock: Stock) -> None:
    """Draw the form for a number that differs from what lies there."""
    with st.form("count", border=True):
        st.markdown("**Counted anew**")
        items = {item.key: item for item in stock.items}
        st.selectbox(
            "Post", list(items), format_func=lambda key: post_words(items[key]), key="count which"
        )
        number, why = st.columns([1, 3])
        number.number_input("As many lie there", 0, 999, 0, key="count number")
        why.text_input("Why it differs", key="count why", max_chars=200)
        st.form_submit_button("Set the number", on_click=_counted, args=(token("count"),))


def _counted(once: str) -> None:
    key, number = str(state.value("count which")), int(state.value("count number", 0))
    why = str(state.value("count why", ""))
    done = act(
        lambda: stock_keeping.count_anew(client_file(), chair.person(), key, number, why, once),
        f"No. {key}: {number} there.",
        "count why",
    )
    if done:
        spent("count")
