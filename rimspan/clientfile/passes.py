"""What a signed-in browser carries: made by the store's key, so that nobody can make one up.

It holds for the password that its person has: a changed one ends every pass issued before.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass

from rimspan.clientfile.base import Base
from rimspan.clientfile.people import People


@dataclass(frozen=True, slots=True)
class Pass:
    """A pass as it was issued.

    ``number`` tells sign-ins apart; a pass that is issued anew for the same sign-in has the same.
    """

    person: str
    number: str
    at_s: float
    """When it was issued, s of the file's clock."""


class Passes:
    """The passes of a client file; another program on the same file knows them too."""

    def __init__(self, file: Base, people: People) -> None:
        self._file, self._people = file, people

    def issue(self, person: str, number: str = "") -> tuple[str, Pass]:
        """Return a pass in writing, and what it says; a new number unless one is given."""
        made = Pass(person, number or secrets.token_hex(16), int(self._now_s()))
        said = _said(made)
        return f"{said}.{self._mark(made.person, said)}", made

    def read(self, written: str) -> Pass | None:
        """Return what a pass says, or None if it is none of this file's."""
        said, _, mark = written.rpartition(".")
        person = said.partition(".")[0]
        if not hmac.compare_digest(mark.encode(), self._mark(person, said).encode()):
            return None
        _, number, at = said.split(".")
        return Pass(person, number, float(at))

    def _mark(self, person: str, said: str) -> str:
        return self._file.ring.tag("pass", f"{said} {self._people.hash_of(person)}")

    def _now_s(self) -> float:
        return self._file.clock().timestamp()


def _said(made: Pass) -> str:
    return f"{made.person}.{made.number}.{int(made.at_s)}"
