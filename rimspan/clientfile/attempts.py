"""Guessing slowed down: who failed has to wait, longer each time, also after a new start."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError

from rimspan.clientfile import tables
from rimspan.clientfile.base import TRIES, Base

FREE_TRIES = 3
LONGEST_WAIT_S = 900.0


def wait_s(failures: int) -> float:
    """Return how long to wait after so many failures on end: 1 s after the third, then doubled."""
    beyond = failures - FREE_TRIES
    return 0.0 if beyond < 0 else min(float(2 ** min(beyond, 20)), LONGEST_WAIT_S)


class Attempts:
    """The tries of one name, or of whatever else is guessed at.

    Parameters
    ----------
    what, value : of what kind it is, and which one; only a tag of it is kept
    """

    def __init__(self, file: Base, what: str, value: str) -> None:
        self._file, self._tag = file, file.ring.tag(what, value)

    def count(self) -> float:
        """Count a try as failed before it is looked at and return 0, or how long to wait, s.

        Counted afterwards, many tries at once would all be looked at.
        """
        attempt, now_s = tables.attempt, self._file.clock().timestamp()
        held = select(attempt).where(attempt.c.tag == self._tag).with_for_update()
        for _ in range(TRIES):
            try:
                with self._file.writing() as connection:
                    row = connection.execute(held).first()
                    if row is not None and row.not_before_s > now_s:
                        return float(row.not_before_s - now_s)
                    failures = (row.failures if row is not None else 0) + 1
                    until_s = now_s + wait_s(failures)
                    values = {"tag": self._tag, "failures": failures, "not_before_s": until_s}
                    if row is None:
                        connection.execute(attempt.insert().values(**values))
                    else:
                        changed = attempt.update().where(attempt.c.tag == self._tag)
                        connection.execute(changed.values(**values))
                return 0.0
            except IntegrityError:  # two first tries at once
                continue
        raise RuntimeError("a try could not be counted beside others")

    def left_s(self) -> float:
        """Return how long the next try has to wait, s."""
        attempt = tables.attempt
        wanted = select(attempt.c.not_before_s).where(attempt.c.tag == self._tag)
        with self._file.reading() as connection:
            until = connection.scalar(wanted)
        return max(0.0, float(until or 0.0) - self._file.clock().timestamp())

    def clear(self) -> None:
        """Begin the count anew, after a try that was right."""
        with self._file.writing() as connection:
            connection.execute(tables.attempt.delete().where(tables.attempt.c.tag == self._tag))
