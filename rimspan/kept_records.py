"""A record's document read back as what it says, or told as damaged."""

from __future__ import annotations

from typing import TypeVar

from pydantic import TypeAdapter, ValidationError

from assess.insertion import RecordError
from rimspan.clientfile import DamagedError, Record

T = TypeVar("T")


def read_back(record: Record, of: TypeAdapter[T], what: str) -> T:
    """Return what a record says; on which side it was is told beside it.

    Parameters
    ----------
    of : what it is read as
    what : its name, for whoever must be told that it is damaged

    Raises
    ------
    DamagedError
        If it can't be read.
    """
    held = {name: value for name, value in record.document.items() if name != "side"}
    try:
        return of.validate_python(held)
    except (ValidationError, RecordError):
        raise DamagedError(f"{what} {record.number}: can't be read") from None
