"""What the client file hands out: plain, frozen, free of the database."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any


@dataclass(frozen=True, slots=True)
class Client:
    """A client: name and note are sealed where they are kept.  A walk-in has no name."""

    id: str
    name: str
    note: str
    created_at: datetime


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """A photo of a client; ``sha256`` is of its bytes as kept."""

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
    """Who decided; :attr:`decided_by` is the same."""
    statement: str
    digest: str
    photos: Mapping[str, str]
    """File name in the marks -> hash of the photo's bytes."""
    pierced_by: str = ""
    """Who pierced, where that is known by now."""
    talk: Mapping[str, Any] = field(default_factory=dict)
    """What was asked and seen of the client; empty in revisions from before it was kept."""

    @property
    def decided_by(self) -> str:
        """Return the piercer who decided."""
        return self.confirmed_by


@dataclass(frozen=True, slots=True)
class Void:
    """Why a revision doesn't count any more, who says so, and since when."""

    reason: str
    by: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Revision:
    """A saved assessment, which never changes; numbers count up for each client."""

    id: str
    number: int
    created_at: datetime
    saved: NewRevision
    void: Void | None = None

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

    @property
    def decided_by(self) -> str:
        """Return the piercer who decided."""
        return self.saved.confirmed_by

    @property
    def pierced_by(self) -> str:
        """Return who pierced, or ``""``."""
        return self.saved.pierced_by


@dataclass(frozen=True, slots=True)
class Consent:
    """What a client allowed or withdrew: whether photos may be kept."""

    given: bool
    by: str
    note: str
    at: datetime


@dataclass(frozen=True, slots=True)
class Event:
    """One entry of the chain as a person reads it."""

    at: datetime
    kind: str
    record: str
    detail: Mapping[str, Any]
