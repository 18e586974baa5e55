"""The tables as the newest migration leaves them.

Every ``LargeBinary`` is sealed.  The tables in ``FIXED`` take new rows only: triggers forbid to
change or delete one, and the chain holds a digest of each.
"""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    Select,
    String,
    Table,
    UniqueConstraint,
    select,
)

from rimspan.clientfile.moments import Moment

METADATA = MetaData()


def _id() -> Column[str]:
    return Column("id", String(36), primary_key=True)


def _client(primary_key: bool = False) -> Column[str]:
    if primary_key:
        return Column("client_id", ForeignKey("client.id"), primary_key=True)
    return Column("client_id", ForeignKey("client.id"), nullable=False, index=True)


def _document() -> Column[bytes]:
    return Column("document", LargeBinary, nullable=False)


def _at(name: str = "at") -> Column[object]:
    return Column(name, Moment, nullable=False)


def _version() -> Column[int]:
    return Column("version", Integer, primary_key=True)


key_slot = Table("key_slot", METADATA, Column("kind", String(10), primary_key=True), _document())
"""The store's key, wrapped by the passphrase and by the recovery key."""

client = Table("client", METADATA, _id(), _at("created_at"))

client_key = Table(
    "client_key", METADATA, _client(True), Column("wrapped", LargeBinary, nullable=False)
)
"""The data key of each client; erasing a client takes this row away."""

client_name = Table(
    "client_name",
    METADATA,
    _client(True),
    _version(),
    Column("name", LargeBinary, nullable=False),
    Column("note", LargeBinary, nullable=False),
    _at(),
)
"""A client's name and note; the newest version counts.  A walk-in has none."""

erased = Table("erased", METADATA, _client(True), Column("kind", String(10), nullable=False), _at())
"""The tombstones: this client was erased (or, a walk-in, let go), and when."""

leaving = Table("leaving", METADATA, _client(True))
"""The clients of whom something has to go: walk-ins until somebody keeps them, and whoever is
erased or let go until nothing is left of their photos and of their key in the database's log."""

photo = Table(
    "photo",
    METADATA,
    _id(),
    _client(),
    Column("side", String(5), nullable=False),
    _document(),
    _at(),
)

photo_index = Table(
    "photo_index",
    METADATA,
    Column("photo_id", ForeignKey("photo.id"), primary_key=True),
    _client(),
    Column("side", String(5), nullable=False),
    Column("tag", String(64), nullable=False, index=True),
    UniqueConstraint("client_id", "side", "tag"),
)
"""The photos whose bytes are there; ``tag`` stands for their hash, by the store's key."""

photo_blob = Table("photo_blob", METADATA, _id(), Column("data", LargeBinary, nullable=False))
"""Photos' bytes where the store is a database server; the embedded store has a folder."""

draft = Table(
    "draft",
    METADATA,
    _client(True),
    Column("side", String(5), primary_key=True),
    _document(),
    Column("rev", Integer, nullable=False),
)

revision = Table(
    "revision",
    METADATA,
    _id(),
    _client(),
    Column("number", Integer, nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    Column("side", String(5), nullable=False),
    _document(),
    Column("created_at", Moment, nullable=False, index=True),
    UniqueConstraint("client_id", "number"),
)

revision_photo = Table(
    "revision_photo",
    METADATA,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("photo_id", ForeignKey("photo.id"), nullable=False, index=True),
)

void = Table(
    "void",
    METADATA,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True),
    _client(),
    _document(),
    _at(),
)
"""Revisions that don't count any more, and why."""

consent = Table("consent", METADATA, _id(), _client(), _document(), _at())
"""What a client allowed or withdrew; the newest counts."""

client_record = Table(
    "client_record",
    METADATA,
    _id(),
    _client(),
    Column("kind", String(20), nullable=False),
    Column("number", Integer, nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    _document(),
    _at("created_at"),
    UniqueConstraint("client_id", "kind", "number"),
)
"""What is kept of a client beside the assessments, numbered for each client and kind."""

studio_record = Table(
    "studio_record",
    METADATA,
    _id(),
    Column("kind", String(20), nullable=False),
    Column("number", Integer, nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    _document(),
    _at("created_at"),
    UniqueConstraint("kind", "number"),
)
"""What the studio keeps in versions, numbered for each kind."""

person = Table("person", METADATA, _id(), _version(), _document(), _at())
"""Who works here, by the studio's key; the newest version counts."""

attempt = Table(
    "attempt",
    METADATA,
    Column("tag", String(64), primary_key=True),
    Column("failures", Integer, nullable=False),
    Column("not_before_s", Float, nullable=False),
)
"""Failed sign-ins by a tag of the name, and until when that name waits."""

setting = Table(
    "setting",
    METADATA,
    Column("name", String(20), primary_key=True),
    _version(),
    _document(),
    _at(),
)

repeat_photo = Table(
    "repeat_photo",
    METADATA,
    _id(),
    _client(),
    Column("tag", String(64), nullable=False),
    UniqueConstraint("client_id", "tag"),
)
"""The secret of a photo whose marks were repeated; goes when its client is erased."""

repeat_mark = Table(
    "repeat_mark",
    METADATA,
    Column("id", String(64), primary_key=True),
    Column("photo", String(32), nullable=False, index=True),
    _document(),
    _at("saved_at"),
)
"""One point in one pass; ``photo`` is a digest of the secret, which the marks outlive."""

chain = Table(
    "chain",
    METADATA,
    Column("seq", Integer, primary_key=True, autoincrement=False),
    _at(),
    Column("kind", String(10), nullable=False),
    Column("client_id", String(36), nullable=True, index=True),
    Column("record", String(60), nullable=True),
    Column("digest", String(64), nullable=False),
    Column("detail", LargeBinary, nullable=False),
    Column("mac", String(64), nullable=False),
)
"""Everything that was done, each entry linked to the one before."""

FIXED = (
    "client",
    "client_name",
    "erased",
    "photo",
    "revision",
    "revision_photo",
    "void",
    "consent",
    "client_record",
    "studio_record",
    "person",
    "setting",
    "chain",
)


def walk_ins() -> Select[tuple[str, datetime]]:
    """Return the query for the walk-ins nobody kept so far or let go, and when they began."""
    return (
        select(client.c.id, client.c.created_at)
        .outerjoin(client_key)
        .outerjoin(client_name)
        .outerjoin(erased)
        .where(
            client_key.c.client_id.is_(None),
            client_name.c.client_id.is_(None),
            erased.c.client_id.is_(None),
        )
    )
