"""Moments as the engines keep them; one that is damaged is handed out as it is read.

The embedded store keeps text.  SQLAlchemy's own type raises on text that is no moment, and hides
with it in which row that was; here ``verify`` sees the row, and everybody else a DamagedError.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import DateTime, Dialect, String
from sqlalchemy.types import TypeDecorator, TypeEngine

from rimspan.clientfile.errors import DamagedError

KEPT = "%Y-%m-%d %H:%M:%S.%f"


class Moment(TypeDecorator[Any]):
    """A moment with its zone; on the embedded store text in UTC."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        """Return how an engine keeps it."""
        return dialect.type_descriptor(
            String(26) if dialect.name == "sqlite" else DateTime(timezone=True)
        )

    def process_bind_param(self, value: Any, dialect: Dialect) -> Any:  # noqa: ANN401  (the driver's)
        """Return a moment as it is kept."""
        if dialect.name != "sqlite" or value is None:
            return value
        return utc(value).strftime(KEPT)

    def process_result_value(self, value: Any, dialect: Dialect) -> Any:  # noqa: ANN401  (the driver's)
        """Return the moment, or what is there where it is none."""
        if dialect.name != "sqlite" or not isinstance(value, str):
            return value
        try:
            moment = datetime.fromisoformat(value)
        except ValueError:
            return value
        return moment if moment.strftime(KEPT) == value else value


def utc(moment: datetime) -> datetime:
    """Return a moment with its zone, which the embedded store does not keep.

    Raises
    ------
    DamagedError
        If it can't be read.
    """
    if not isinstance(moment, datetime):
        raise DamagedError("a moment can't be read; rimspan file verify says more")
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
