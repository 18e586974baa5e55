"""The embedded database's own bytes: what no row uses, and what of that must be zero.

SQLite's ``integrity_check`` looks at how pages hang together, not at bytes that hold nothing.
Pages kept for later and the ends of long values are zero, as ``secure_delete`` leaves them: where
they aren't, something other than SQLite wrote there.  Between a page's rows old bytes may stay when
SQLite moves rows to another page; what changes there changes nothing that is kept, and is told only
against the record of all pages (:mod:`rimspan.clientfile.holding`).

References
----------
The SQLite project, "Database File Format": 1.3 (header), 1.5 and 1.6 (pages, cells, overflow).
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass

HEADER = 100
FIXED = {18: b"\x02", 19: b"\x02", 48: bytes(8), 56: b"\0\0\0\1", 60: bytes(12), 72: bytes(20)}
"""What stands in the header of every client file, by place: WAL, UTF-8, and what isn't used."""
INNER_INDEX, INNER_TABLE, LEAF_INDEX, LEAF_TABLE = 2, 5, 10, 13


@dataclass(frozen=True, slots=True)
class Unused:
    """Bytes of the file that hold nothing, from ``start`` up to ``end``."""

    page: int
    start: int
    end: int
    zero: bool
    """Whether they must be zero."""


def unexpected(data: bytes, roots: list[int]) -> Iterator[str]:
    """Yield where a database holds something in bytes that belong to nothing.

    Parameters
    ----------
    data : the whole database, which must hang together: ``integrity_check`` finds nothing
    roots : the first page of every table and index
    """
    fixed = all(data[at : at + len(held)] == held for at, held in FIXED.items())
    if not fixed or data[24:28] != data[92:96]:
        yield "page 1: the file's header was changed"
    for each in unused(data, roots):
        if each.zero and any(data[each.start : each.end]):
            yield f"page {each.page}: something stands where nothing is kept"


def unused(data: bytes, roots: list[int]) -> Iterator[Unused]:
    """Yield the bytes that hold nothing; bits of up to three bytes between rows are left out."""
    pages = _Pages(data)
    for root in roots:
        yield from pages.tree(root)
    yield from pages.free()


class _Pages:
    """The pages of a database."""

    def __init__(self, data: bytes) -> None:
        size = struct.unpack_from(">H", data, 16)[0]
        self.size = 65536 if size == 1 else int(size)
        self.usable = self.size - data[20]
        self._data = memoryview(data)

    def page(self, number: int) -> memoryview:
        """Return a page's bytes, the first being number 1."""
        return self._data[(number - 1) * self.size : number * self.size]

    def _unused(self, number: int, start: int, end: int, *, zero: bool) -> Unused:
        before = (number - 1) * self.size
        return Unused(number, before + start, before + end, zero)

    def tree(self, root: int) -> Iterator[Unused]:
        """Yield what is unused in a table's or index's pages."""
        waiting = [root]
        while waiting:
            number = waiting.pop()
            page = self.page(number)
            at = HEADER if number == 1 else 0
            kind, block, cells, start = struct.unpack_from(">BHHH", page, at)
            inner = kind in (INNER_INDEX, INNER_TABLE)
            end = at + (12 if inner else 8) + 2 * cells
            yield self._unused(number, end, start or self.size, zero=False)
            while block:
                following, length = struct.unpack_from(">HH", page, block)
                yield self._unused(number, block + 4, block + length, zero=False)
                block = following
            if inner:
                waiting.append(_number(page, at + 8))
            for (cell,) in struct.iter_unpack(">H", page[end - 2 * cells : end]):
                if inner:
                    waiting.append(_number(page, cell))
                if kind != INNER_TABLE:
                    yield from self._beyond(page, cell + (4 if inner else 0), kind)

    def _beyond(self, page: memoryview, at: int, kind: int) -> Iterator[Unused]:
        """Yield what is unused behind a value that goes on in pages of its own."""
        length, at = _varint(page, at)
        most = (self.usable - 12) * 64 // 255 - 23
        if kind == LEAF_TABLE:
            _, at = _varint(page, at)
            most = self.usable - 35
        if length <= most:
            return
        least = (self.usable - 12) * 32 // 255 - 23
        here = least + (length - least) % (self.usable - 4)
        here = here if here <= most else least
        number, length = _number(page, at + here), length - here
        while number:
            held = min(length, self.usable - 4)
            yield self._unused(number, 4 + held, self.size, zero=True)
            number, length = _number(self.page(number), 0), length - held

    def free(self) -> Iterator[Unused]:
        """Yield the pages that are kept for later; a list of them may hold old numbers."""
        trunk = _number(self.page(1), 32)
        while trunk:
            page = self.page(trunk)
            following, count = struct.unpack_from(">II", page, 0)
            yield self._unused(trunk, 8 + 4 * count, self.size, zero=False)
            for (leaf,) in struct.iter_unpack(">I", page[8 : 8 + 4 * count]):
                yield self._unused(leaf, 0, self.size, zero=True)
            trunk = following


def _number(page: memoryview, at: int) -> int:
    return int.from_bytes(page[at : at + 4], "big")


def _varint(page: memoryview, at: int) -> tuple[int, int]:
    """Return a number of up to nine bytes, and where the next one begins."""
    value = 0
    for used in range(8):
        value = value << 7 | page[at + used] & 0x7F
        if page[at + used] < 0x80:
            return value, at + used + 1
    return value << 8 | page[at + 8], at + 9
