"""The tree of errors.

::

    AssessError                 exit status
    ├── MarksError              2   the marks file is wrong: a line for each fault
    ├── NothingMarkedError      2   nothing that could be measured was marked
    ├── NotMeasurableError      3   marked, but no photo can be measured
    └── WordingError            2   a studio's wording drops a caution (assess.talk.rewording)

Expected outcomes (no card in this photo, relief never measured) are values, not errors.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from calibration.refused import Refused


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: where, what, and what to do about it."""

    where: str
    what: str
    remedy: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        line = f"{self.where}: {self.what}; {self.remedy}" if self.where else self.what
        return " ".join(line.split())


class AssessError(Exception):
    """A refusal with a line for each fault."""

    exit_status = 2

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class MarksError(AssessError):
    """The marks file breaks its format or contradicts itself."""


class NothingMarkedError(AssessError):
    """The marks hold neither a placement's two ends nor both contours nor a caliper reading."""


class NotMeasurableError(AssessError):
    """Something is marked, but no photo can be measured."""

    exit_status = 3

    @classmethod
    def of(cls, photo: str, why: Refused) -> NotMeasurableError:
        """Return the error of one photo that was refused."""
        return cls([Fault(photo, f"{why.seen} {why.means}", why.do)])
