"""What the client file hands out: plain, frozen, free of the database."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any


def utc(moment: datetime) -> datetime:
    """Return a moment with its zone, which the embedded store does not keep."""
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Client:
    """A client: name and note are sealed where they are kept."""

    id: str
    name: str
    note: str
    created_at: datetime


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """A photo of a client; its bytes lie under their hash."""

    id: str
    client_id: str
    sha256: str
    filename: str
    side: str
    size: int


@dataclass(frozen=True, slots=True)
class NewRevision:
    """An assessment about to be saved."""

    client_id: str
    side: str
    marks: Mapping[str, Any]
    result: Mapping[str, Any]
    criteria: Mapping[str, Any]
    software: str
    measured_by: str
    confirmed_by: str
    statement: str
    digest: str
    photos: Mapping[str, str]
    """File name in the marks -> hash of the photo's bytes."""


@dataclass(frozen=True, slots=True)
class Revision:
    """A saved assessment, which never changes; numbers count up for each client."""

    id: str
    number: int
    created_at: datetime
    saved: NewRevision

    @property
    def client_id(self) -> str:
        """Return whose assessment it is."""
        return self.saved.client_id

    @property
    def side(self) -> str:
        """Return which ear."""
        return self.saved.side

    @property
    def marks(self) -> Mapping[str, Any]:
        """Return the marks it was measured from."""
        return self.saved.marks

    @property
    def result(self) -> Mapping[str, Any]:
        """Return the result as it was confirmed."""
        return self.saved.result

    @property
    def criteria(self) -> Mapping[str, Any]:
        """Return the limits that were in force."""
        return self.saved.criteria

    @property
    def measured_by(self) -> str:
        """Return who measured."""
        return self.saved.measured_by

    @property
    def confirmed_by(self) -> str:
        """Return the piercer who decided."""
        return self.saved.confirmed_by
