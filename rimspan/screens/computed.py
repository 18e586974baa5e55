"""What was computed at one chair and holds at all of them: readings and answers, never a photo.

Each is found by all that it was computed from (the hashes of the photos, the marks, the limits), so
whoever asks for it could compute it, and would get the same.  A page that is loaded anew, and a
second chair on the same ear, wait for none of it.
"""

from __future__ import annotations

import json
import threading
from collections import OrderedDict, defaultdict
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from rimspan.screens.store import FORGETTING

T = TypeVar("T")

KEPT = 200
"""Results of a kind that the program holds on to: a photo's reading takes some kilobytes."""

_guard = threading.Lock()
_held: defaultdict[str, OrderedDict[str, Any]] = defaultdict(OrderedDict)
_erasures: list[int] = []


def text_of(key: Any) -> str:  # noqa: ANN401  (anything that JSON can hold)
    """Return the text by which something that was computed is found."""
    return json.dumps(key, sort_keys=True, default=str)


def once(kind: str, key: Any, compute: Callable[[], T], most: int = KEPT) -> T:  # noqa: ANN401
    """Return ``compute()``, computed once while the program runs for each key of a kind.

    Two chairs that ask at once both compute it: neither waits for the other.

    Parameters
    ----------
    key : anything that JSON can hold; equal text is the same key
    most : how many of this kind are held on to, those asked for longest ago going first
    """
    name = text_of(key)
    with _guard:
        held, before = _held[kind], len(_erasures)
        if name in held:
            held.move_to_end(name)
            found: T = held[name]
            return found
    found = compute()
    with _guard:
        if before == len(_erasures):  # what was erased meanwhile isn't held on to
            held[name] = found
            while len(held) > most:
                held.popitem(last=False)
    return found


def _forget(hashes: Iterable[str]) -> None:
    """Forget everything once a client was erased: what is still wanted is computed again."""
    with _guard:
        _erasures.append(len(_erasures))
        for held in _held.values():
            held.clear()


FORGETTING.append(_forget)
