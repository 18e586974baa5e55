"""The chain: an entry for everything that was done, each linked to the one before.

An entry holds a digest of the row that it stands for and an HMAC over itself and the HMAC of the
entry before.  Without the store's key nobody can change, leave out or put in an entry unseen; only
cutting off the newest ones shows nowhere in the file itself.  That shows against a head kept
elsewhere: every backup holds one.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from typing import Any

from sqlalchemy import Connection, Row, Table, select, text

from rimspan.clientfile import tables
from rimspan.clientfile.keys import KeyRing
from rimspan.clientfile.moments import utc
from rimspan.clientfile.seal import place

LOCK_KEY = 0x52696D63
"""Names the advisory lock under which a server's chain grows."""
START = "0" * 64
"""What the first entry links to."""


@dataclass(frozen=True, slots=True)
class Head:
    """The newest entry: its number and its mark."""

    seq: int
    mac: str


@dataclass(frozen=True, slots=True)
class Entry:
    """What is about to stand in the chain.

    ``digest`` is of the row that it stands for, ``detail`` what the studio reads of it: who did
    it, nothing of the client.
    """

    kind: str
    client: str | None = None
    record: str | None = None
    digest: str = ""
    detail: Mapping[str, Any] | None = None


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return utc(value).isoformat(timespec="microseconds")
    if isinstance(value, bytes):
        return sha256(value).hexdigest()
    return value


def row_digest(row: Mapping[str, Any]) -> str:
    """Return the digest of a row, by column."""
    plain = {name: _plain(value) for name, value in row.items()}
    return sha256(json.dumps(plain, sort_keys=True).encode()).hexdigest()


def head(connection: Connection) -> Head:
    """Return the newest entry's number and mark; number 0 before the first."""
    wanted = select(tables.chain.c.seq, tables.chain.c.mac)
    row = connection.execute(wanted.order_by(tables.chain.c.seq.desc()).limit(1)).first()
    return Head(row.seq, row.mac) if row is not None else Head(0, START)


def append(connection: Connection, ring: KeyRing, at: datetime, entry: Entry) -> None:
    """Add an entry; the last step of a transaction, as others wait for it from here on."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK_KEY})
    before = head(connection)
    seq = before.seq + 1
    detail = json.dumps(dict(entry.detail or {})).encode()
    values = {
        "seq": seq,
        "at": at,
        "kind": entry.kind,
        "client_id": entry.client,
        "record": entry.record,
        "digest": entry.digest,
        "detail": ring.studio.close(place("chain", "detail", seq), detail),
    }
    connection.execute(tables.chain.insert().values(**values, mac=mark(ring, values, before.mac)))


def mark(ring: KeyRing, values: Mapping[str, Any], before: str) -> str:
    """Return the mark of an entry after one with the mark ``before``."""
    return ring.mac(f"{before}\n{row_digest(values)}".encode())


def kept_row(
    connection: Connection,
    ring: KeyRing,
    table: Table,
    values: Mapping[str, Any],
    entry: Entry,
    at: datetime,
) -> None:
    """Insert a row of a table that never changes, and its entry."""
    connection.execute(table.insert().values(**values))
    append(connection, ring, at, _with_digest(entry, row_digest(values)))


def _with_digest(entry: Entry, digest: str) -> Entry:
    return Entry(entry.kind, entry.client, entry.record, digest, entry.detail)


def detail_of(ring: KeyRing, row: Row[Any]) -> dict[str, Any]:
    """Return what the studio noted in an entry."""
    opened = ring.studio.open(place("chain", "detail", row.seq), row.detail)
    return dict(json.loads(opened))
