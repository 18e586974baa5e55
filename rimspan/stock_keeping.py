"""The studio's stock in the client file: versions, never edited; who may change it is said here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from pydantic import TypeAdapter, ValidationError

from assess.marks import PostStock
from assess.stock import Stock, StockError, StockItem
from rimspan.clientfile import (
    ClientFile,
    DamagedError,
    NewRecord,
    Person,
    Record,
    RefusedError,
)
from rimspan.studio import decider

STOCK = "stock"
NEW = "new"
"""The key of an item that hasn't got one yet."""
_STOCK = TypeAdapter(Stock)


@dataclass(frozen=True, slots=True)
class Version:
    """The stock as it is, and the number of its version; 0 where none was kept so far."""

    stock: Stock
    number: int


def stock_of(file: ClientFile) -> Version:
    """Return the stock as it is now.

    Raises
    ------
    DamagedError
        If what is kept is no stock.
    """
    newest = file.newest_record(STOCK)
    return Version(Stock(), 0) if newest is None else Version(stock_in(newest), newest.number)


def stock_in(record: Record) -> Stock:
    """Return the stock that a version is of."""
    try:
        return _STOCK.validate_python({"items": record.document["items"]})
    except (ValidationError, StockError, KeyError):
        raise DamagedError(f"stock {record.number}: can't be read; restore a backup") from None


def new_version(stock: Stock, after: int, by: str, change: str) -> NewRecord:
    """Return the next version of the stock, with what changed in words."""
    held: dict[str, Any] = _STOCK.dump_python(stock, mode="json")
    return NewRecord(STOCK, by, held | {"change": change}, after=after)


def receive(file: ClientFile, by: Person | None, item: StockItem, token: str) -> Record:
    """Keep that posts came in; alike ones are counted up, another lot gets a key of its own.

    Raises
    ------
    NotAllowedError
        If nobody is signed in, or an apprentice.
    OvertakenError
        If another chair changed the stock meanwhile.
    """

    def received(stock: Stock) -> tuple[Stock, str]:
        keyed = replace(item, key=stock.key_of(item))
        return stock.received(keyed), f"received {item.count} of no. {keyed.key}"

    return _changed(file, by, token, received)


def count_anew(
    file: ClientFile, by: Person | None, key: str, count: int, why: str, token: str
) -> Record:
    """Keep that an item was counted anew, and why its number differs.

    Raises
    ------
    RefusedError
        If no reason is given, or as :func:`receive`.
    """

    def counted(stock: Stock) -> tuple[Stock, str]:
        if not why.strip():
            raise StockError("say why the number differs")
        before = stock.item(key).count
        return stock.counted(key, count), f"no. {key}: {count}, not {before}: {why.strip()}"

    return _changed(file, by, token, counted)


def _changed(
    file: ClientFile, by: Person | None, token: str, change: Callable[[Stock], tuple[Stock, str]]
) -> Record:
    name = decider(file, by).name
    known = stock_of(file)
    same = new_version(known.stock, known.number, name, "")
    if (kept := file.known_record(same, token)) is not None:
        return kept
    try:
        stock, words = change(known.stock)
    except StockError as error:
        raise RefusedError(str(error)) from None
    return file.add_record(new_version(stock, known.number, name, words), token)


def offered(file: ClientFile, on: date) -> tuple[int, tuple[PostStock, ...]]:
    """Return the stock's version and what of it may be used on a day, as measuring takes it."""
    known = stock_of(file)
    return known.number, known.stock.offered(on)
