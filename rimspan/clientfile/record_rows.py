"""Rows of records: where they lie, how they open, and which photos they hold on to."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, Table, select

from rimspan.clientfile import tables
from rimspan.clientfile.moments import utc
from rimspan.clientfile.seal import Seal, place


@dataclass(frozen=True, slots=True)
class Record:
    """A record as it is kept; numbers count up for each client and kind."""

    id: str
    client_id: str | None
    """None for one of the studio."""
    kind: str
    number: int
    created_at: datetime
    by: str
    """Who made it."""
    document: Mapping[str, Any]
    photos: tuple[str, ...] = ()
    """Hashes of the client's photos that belong to it."""


def table_of(client: str | None) -> Table:
    """Return where records of a client lie, or of the studio."""
    return tables.studio_record if client is None else tables.client_record


def of_client(row: Row[Any]) -> str | None:
    """Return whose record a row is, None for the studio."""
    found: str | None = row._mapping.get("client_id")
    return found


def place_of(client: str | None, kind: str, record: str, number: int) -> str:
    """Return where a record's document lies: kind and number are bound to it."""
    name = table_of(client).name
    whose = () if client is None else (client,)
    return place(name, "document", *whose, kind, record, number)


def opened_record(seal: Seal, row: Row[Any]) -> Record:
    """Return the record that a row is of.

    Raises
    ------
    DamagedError
        If it doesn't open.
    """
    client = of_client(row)
    held = json.loads(seal.open(place_of(client, row.kind, row.id, row.number), row.document))
    return Record(
        row.id,
        client,
        row.kind,
        row.number,
        utc(row.created_at),
        held["by"],
        held["held"],
        tuple(held["photos"]),
    )


def holding(connection: Connection, seal: Seal, client: str, digest: str) -> list[str]:
    """Return which of a client's records a photo belongs to, as a person reads it."""
    table = tables.client_record
    wanted = select(table).where(table.c.client_id == client).order_by(table.c.created_at)
    opened = (opened_record(seal, row) for row in connection.execute(wanted))
    return [f"{each.kind} {each.number}" for each in opened if digest in each.photos]
