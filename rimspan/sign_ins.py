"""Who is signed in, at which chair: a pass in the browser, and how long nothing was done there.

A chair is one browser.  Its pass names the person; when it was last used stands here, in memory,
and roughly in the pass itself, so that a program that is started anew doesn't send everybody to
the sign-in.  After the minutes that the studio sets, a chair is locked until the password is
typed again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from rimspan.clientfile import ClientFile, Person
from rimspan.clientfile.passes import Pass

IDLE_MIN = 10.0
"""Minutes after which a chair is locked, unless the studio sets others."""
RENEW_S = 30.0
"""A pass that is older than this is issued anew where the chair is used."""
THERE_S = 120.0
"""For so long after its last step a chair counts as looking at the ear it has open."""


@dataclass
class Chair:
    """A browser that somebody signed in at."""

    number: str
    person: str
    seen_s: float
    locked: bool = False
    ear: tuple[str, str] | None = None
    """The client's id and the side that are open there."""
    photos: set[str] = field(default_factory=set)
    """The hashes of the photos that were shown there."""


@dataclass(frozen=True, slots=True)
class Seat:
    """Who sits at a chair, as of now."""

    person: Person
    number: str
    locked: bool


def idle_minutes(file: ClientFile) -> float:
    """Return after how many minutes a chair is locked."""
    return float(file.settings.get("idle").get("minutes", IDLE_MIN))


class SignIns:
    """The chairs of this program.

    Parameters
    ----------
    file : returns the open client file
    """

    def __init__(self, file: Callable[[], ClientFile]) -> None:
        self.file = file
        self._chairs: dict[str, Chair] = {}
        self._ended: set[str] = set()
        self._changing = threading.RLock()

    def begin(self, person: Person) -> str:
        """Return the pass of somebody who has just signed in at a browser."""
        written, made = self.file().passes.issue(person.id)
        with self._changing:
            self._chairs[made.number] = Chair(made.number, person.id, made.at_s)
        return written

    def unlock(self, written: str, person: Person) -> str | None:
        """Return the pass anew if it is that person's and still good, as they gave their password.

        Their other windows in the same browser are open again with it.
        """
        with self._changing:
            chair = self._chair(written)
            if chair is None or chair.person != person.id:
                return None
            chair.locked, chair.seen_s = False, self._now_s()
        return self.file().passes.issue(person.id, chair.number)[0]

    def end(self, written: str) -> None:
        """Sign a chair out: its pass is good for nothing from now on."""
        known = self.file().passes.read(written) if written else None
        if known is not None:
            with self._changing:
                self._ended.add(known.number)
                self._chairs.pop(known.number, None)

    def seat(self, written: str, *, used: bool = False) -> Seat | None:
        """Return who sits at a chair, or None if nobody does (any more).

        Parameters
        ----------
        used : somebody does something there, which begins the minutes anew
        """
        chair = self._chair(written)
        if chair is None:
            return None
        person = self.file().people.find(chair.person)
        if person is None or not person.active:
            self.end(written)
            return None
        with self._changing:
            now_s, idle_s = self._now_s(), 60.0 * idle_minutes(self.file())
            chair.locked = chair.locked or now_s - chair.seen_s > idle_s
            if used and not chair.locked:
                chair.seen_s = now_s
            return Seat(person, chair.number, chair.locked)

    def renewed(self, written: str) -> str | None:
        """Return the pass of an open chair anew if it is time for that."""
        chair = self._chair(written)
        known = None if chair is None else self.file().passes.read(written)
        if known is None or chair is None or chair.locked:
            return None
        if self._now_s() - known.at_s < RENEW_S:
            return None
        return self.file().passes.issue(chair.person, chair.number)[0]

    def show(self, written: str, sha256: str) -> None:
        """Let a chair fetch a photo, as its page shows it."""
        chair = self._chair(written)
        if chair is not None:
            chair.photos.add(sha256)

    def shows(self, written: str, sha256: str) -> bool:
        """Return whether a chair's page shows a photo."""
        chair = self._chair(written)
        return chair is not None and sha256 in chair.photos

    def opens(self, written: str, ear: tuple[str, str] | None) -> None:
        """Note which client's ear a chair has open."""
        chair = self._chair(written)
        if chair is not None:
            chair.ear = ear

    def others(self, written: str, ear: tuple[str, str]) -> list[str]:
        """Return the names of those who have an ear open at another chair, locked or not."""
        mine, now_s = self._chair(written), self._now_s()
        with self._changing:
            there = [
                chair.person
                for chair in self._chairs.values()
                if chair is not mine and chair.ear == ear and now_s - chair.seen_s < THERE_S
            ]
        found = [self.file().people.find(person) for person in dict.fromkeys(there)]
        return [person.name for person in found if person is not None]

    def _chair(self, written: str) -> Chair | None:
        known = self.file().passes.read(written) if written else None
        if known is None:
            return None
        with self._changing:
            if known.number in self._ended:
                return None
            return self._chairs.get(known.number) or self._known_by(known)

    def _known_by(self, known: Pass) -> Chair:
        """Return the chair of a pass that an earlier program issued."""
        made = Chair(known.number, known.person, known.at_s)
        self._chairs[known.number] = made
        return made

    def _now_s(self) -> float:
        return self.file().clock().timestamp()
