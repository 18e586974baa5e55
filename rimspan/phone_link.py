"""One-time, short-lived links by which a phone sends photos into one consultation.

A link is named by a token of 32 random bytes that only its QR code carries; here stays nothing
but the token's hash.  Links live in the memory of one server and die with it.
"""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import Enum
from hashlib import sha256
from typing import Generic, TypeVar

T = TypeVar("T")
Clock = Callable[[], float]
"""Seconds from some beginning, never going back."""

LIFE_S = 600.0
GRACE_S = 300.0
"""An upload that began while the link was alive may end this much after it."""
REMEMBERED_S = 3600.0
"""For this long after its end a link is remembered, to say why it is dead."""
TOKEN_BYTES = 32


class End(Enum):
    """Why a link is dead."""

    USED = "used"
    EXPIRED = "expired"
    WITHDRAWN = "withdrawn"


@dataclass(frozen=True, slots=True)
class Brought:
    """What one upload came to: names of the photos kept, and why the others were refused."""

    kept: tuple[str, ...] = ()
    refused: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Link(Generic[T]):
    """What is known of a link at a moment; never its token.

    ``left_s`` is the time it has left, s; ``end`` why it is dead, None while it lives;
    ``photos`` how many photos it brought.
    """

    id: str
    target: T
    left_s: float
    end: End | None
    photos: int


@dataclass(slots=True)
class _Record(Generic[T]):
    id: str
    target: T
    digest: bytes
    expires_s: float
    withdrawn: bool = False
    used: bool = False
    photos: int = 0
    redeeming: threading.Lock = field(default_factory=threading.Lock)


def _digest(token: str) -> bytes:
    return sha256(token.encode("utf-8", "surrogatepass")).digest()


class PhoneLinks(Generic[T]):
    """The links of one server.  Safe to use from several threads.

    Parameters
    ----------
    clock : seconds, never going back
    """

    def __init__(self, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._records: list[_Record[T]] = []
        self._changing = threading.Lock()

    def issue(self, target: T) -> tuple[str, Link[T]]:
        """Return a new token and its link; an older link to the same target is withdrawn."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        now = self._clock()
        made = _Record(secrets.token_hex(8), target, _digest(token), now + LIFE_S)
        with self._changing:
            self._records = [r for r in self._records if now < r.expires_s + REMEMBERED_S]
            for record in self._records:
                record.withdrawn |= record.target == target
            self._records.append(made)
        return token, self._seen(made)

    def look_up(self, token: str) -> Link[T] | None:
        """Return a token's link, dead or alive, or None if there is none (any more)."""
        found = self._find(token)
        return None if found is None else self._seen(found)

    def latest(self, target: T) -> Link[T] | None:
        """Return the newest link to a target, dead or alive, or None."""
        with self._changing:
            found = next((r for r in reversed(self._records) if r.target == target), None)
        return None if found is None else self._seen(found)

    def withdraw(self, link_id: str) -> None:
        """Make a link dead."""
        with self._changing:
            for record in self._records:
                record.withdrawn |= record.id == link_id

    def redeem(self, token: str, bring: Callable[[T], Brought]) -> Brought | None:
        """Return what ``bring`` made of the upload; the link is used up if a photo was kept.

        Of two uploads at once the second waits and then finds the link dead.  If nothing was
        kept, or ``bring`` raised, the link lives on.

        Returns
        -------
        Brought | None
            None, without calling ``bring``, if the link is dead.
        """
        record = self._find(token)
        if record is None:
            return None
        with record.redeeming:
            late = self._clock() >= record.expires_s + GRACE_S
            if record.used or record.withdrawn or late:
                return None
            brought = bring(record.target)
            record.used, record.photos = bool(brought.kept), len(brought.kept)
            return brought

    def _find(self, token: str) -> _Record[T] | None:
        """Compare with every link there is, so that the time taken tells nothing of a token."""
        asked, now, found = _digest(token), self._clock(), None
        with self._changing:
            for record in self._records:
                same = secrets.compare_digest(asked, record.digest)
                if same and now < record.expires_s + REMEMBERED_S:
                    found = record
        return found

    def _seen(self, record: _Record[T]) -> Link[T]:
        left_s = record.expires_s - self._clock()
        end = None
        if record.used:
            end = End.USED
        elif record.withdrawn:
            end = End.WITHDRAWN
        elif left_s <= 0:
            end = End.EXPIRED
        return Link(record.id, record.target, max(left_s, 0.0), end, record.photos)


class Guesses:
    """Who asked for links that don't exist, and how often of late.

    Parameters
    ----------
    clock : seconds, never going back
    most : wrong tokens within ``within_s`` after which that asker is answered nothing
    known : askers held in mind, those who missed last
    """

    def __init__(
        self,
        clock: Clock = time.monotonic,
        *,
        most: int = 20,
        within_s: float = 60.0,
        known: int = 1000,
    ) -> None:
        self._clock, self._most, self._within_s, self._known = clock, most, within_s, known
        self._misses: OrderedDict[str, deque[float]] = OrderedDict()
        self._changing = threading.Lock()

    def missed(self, who: str) -> None:
        """Note that somebody asked for a link that doesn't exist."""
        with self._changing:
            times = self._misses.setdefault(who, deque(maxlen=self._most))
            times.append(self._clock())
            self._misses.move_to_end(who)
            while len(self._misses) > self._known:
                self._misses.popitem(last=False)

    def barred(self, who: str) -> bool:
        """Return whether somebody missed so often that they must wait."""
        with self._changing:
            times = self._misses.get(who, deque())
            return len(times) == self._most and self._clock() - times[0] < self._within_s
