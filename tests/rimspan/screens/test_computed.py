"""What holds at all chairs: computed once, let go in turn, forgotten when a client is erased."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from rimspan.screens import computed
from rimspan.screens.store import FORGETTING


def erase_somebody() -> None:
    for forget in FORGETTING:
        forget(["0" * 64])


@pytest.fixture(autouse=True)
def nothing_held() -> Iterator[None]:
    erase_somebody()
    yield
    erase_somebody()


def test_what_was_computed_once_is_there_for_all() -> None:
    made: list[int] = []
    for key in ([1, {"a": 2, "b": 3}], [1, {"b": 3, "a": 2}]):
        assert computed.once("sum", key, lambda: made.append(1) or "first") == "first"
    assert made == [1]
    assert computed.once("product", [1, {"a": 2, "b": 3}], lambda: "other") == "other"


def test_those_asked_for_longest_ago_go_first() -> None:
    for key in ("a", "b", "a", "c"):
        computed.once("sum", key, lambda key=key: key, most=2)
    assert computed.once("sum", "a", lambda: "anew", most=2) == "a"
    assert computed.once("sum", "b", lambda: "anew", most=2) == "anew"


def test_an_erasure_lets_go_of_all_also_of_what_is_on_its_way() -> None:
    computed.once("sum", "before", lambda: "old")

    def overtaken() -> str:
        erase_somebody()
        return "old"

    assert computed.once("sum", "meanwhile", overtaken) == "old"
    for key in ("before", "meanwhile"):
        assert computed.once("sum", key, lambda: "anew") == "anew"
