"""Why something can't be had: what was seen, what it means, what to do."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refused:
    """A refusal: ``code`` for programs, the other three for people."""

    code: str
    seen: str
    means: str
    do: str

    @property
    def sentence(self) -> str:
        """Return what was seen, what it means and what to do as one text."""
        return f"{self.seen} {self.means} {self.do}"
