"""What every page of the embedded database was when it was closed, in a record beside it.

::

    "rimspan-pages/1"   bytes of a page, bytes of the file
    16 bytes a page     BLAKE2b of its number and bytes, under a key of the store's
    32 bytes            BLAKE2b of all of the above, under the same key

Whoever lacks the store's key can't make one that fits other bytes.
"""

from __future__ import annotations

import hmac
import os
import struct
from collections.abc import Iterator
from hashlib import blake2b

from rimspan.clientfile.errors import DamagedError

HEAD = struct.Struct(">16sIQ")
FORMAT = b"rimspan-pages/1\n"
MARK_BYTES, SEAL_BYTES = 16, 32
AT_ONCE = 1 << 20
"""A multiple of every page's size."""
SIZES = frozenset(1 << power for power in range(9, 17))
USUAL_SIZE = 4096


def record_of(handle: int, key: bytes) -> bytes:
    """Return the record of a database file that is open for reading."""
    page = _page_bytes(handle)
    said = HEAD.pack(FORMAT, page, os.fstat(handle).st_size)
    said += b"".join(_marks(handle, page, key))
    return said + _seal(said, key)


def changed_pages(handle: int, key: bytes, record: bytes) -> Iterator[str]:
    """Yield where a database file isn't what its record says; pages in a row are told as one.

    Raises
    ------
    DamagedError
        If the record itself isn't as it was written.
    """
    said, seal = record[:-SEAL_BYTES], record[-SEAL_BYTES:]
    if len(said) < HEAD.size or not hmac.compare_digest(seal, _seal(said, key)):
        raise DamagedError("is damaged, so nothing can be held against it")
    _, page, size = HEAD.unpack_from(said)
    kept = [said[at : at + MARK_BYTES] for at in range(HEAD.size, len(said), MARK_BYTES)]
    marks = list(_marks(handle, page, key))
    both = zip(kept, marks, strict=False)
    changed = [number for number, (was, now) in enumerate(both, 1) if was != now]
    now_size = os.fstat(handle).st_size
    for first, last in _runs(changed):
        pages = f"page {first}" if first == last else f"pages {first} to {last}"
        end = min(last * page, now_size) - 1
        yield f"{pages}, bytes {(first - 1) * page} to {end}"
    if now_size != size:
        yield f"the length, once {size} bytes and now {now_size},"


def _page_bytes(handle: int) -> int:
    size = int.from_bytes(os.pread(handle, 2, 16), "big")
    size = 65536 if size == 1 else size
    return size if size in SIZES else USUAL_SIZE


def _marks(handle: int, page: int, key: bytes) -> Iterator[bytes]:
    number, at = 0, 0
    while part := os.pread(handle, AT_ONCE, at):
        view = memoryview(part)
        for start in range(0, len(part), page):
            number += 1
            bound = number.to_bytes(8, "big")
            held = view[start : start + page]
            yield blake2b(held, digest_size=MARK_BYTES, key=key, salt=bound).digest()
        at += len(part)


def _seal(said: bytes, key: bytes) -> bytes:
    return blake2b(said, digest_size=SEAL_BYTES, key=key).digest()


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Yield the first and last of numbers that follow one another."""
    first = last = 0
    for number in numbers:
        if number == last + 1 and first:
            last = number
            continue
        if first:
            yield first, last
        first = last = number
    if first:
        yield first, last
