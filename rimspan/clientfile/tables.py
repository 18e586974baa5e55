"""The tables as the newest migration leaves them."""

from __future__ import annotations

from sqlalchemy import (
    Column,
    DateTime,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    UniqueConstraint,
)

METADATA = MetaData()

client = Table(
    "client",
    METADATA,
    Column("id", String(36), primary_key=True),
    Column("name", LargeBinary, nullable=False),
    Column("note", LargeBinary, nullable=False),
    Column("created_at", DateTime(timezone=True), nullable=False),
)

photo = Table(
    "photo",
    METADATA,
    Column("id", String(36), primary_key=True),
    Column("client_id", ForeignKey("client.id"), nullable=False, index=True),
    Column("sha256", String(64), nullable=False, index=True),
    Column("filename", LargeBinary, nullable=False),
    Column("side", String(5), nullable=False),
    Column("size", Integer, nullable=False),
    UniqueConstraint("client_id", "side", "sha256"),
)

blob = Table(
    "blob",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("data", LargeBinary, nullable=False),
)
"""Photos' bytes where the store is a database server; the embedded store has a folder."""

draft = Table(
    "draft",
    METADATA,
    Column("client_id", ForeignKey("client.id"), primary_key=True),
    Column("side", String(5), primary_key=True),
    Column("document", LargeBinary, nullable=False),
    Column("rev", Integer, nullable=False),
)

revision = Table(
    "revision",
    METADATA,
    Column("id", String(36), primary_key=True),
    Column("client_id", ForeignKey("client.id"), nullable=False, index=True),
    Column("number", Integer, nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    Column("side", String(5), nullable=False),
    Column("document", LargeBinary, nullable=False),
    Column("created_at", DateTime(timezone=True), nullable=False),
    UniqueConstraint("client_id", "number"),
)

revision_photo = Table(
    "revision_photo",
    METADATA,
    Column("revision_id", ForeignKey("revision.id"), primary_key=True),
    Column("position", Integer, primary_key=True),
    Column("sha256", String(64), nullable=False),
)

repeat_photo = Table(
    "repeat_photo",
    METADATA,
    Column("id", String(36), primary_key=True),
    Column("client_id", ForeignKey("client.id"), nullable=False, index=True),
    Column("sha256", String(64), nullable=False),
    UniqueConstraint("client_id", "sha256"),
)
"""The secret of a photo whose marks were repeated; goes when its client is erased."""

repeat_mark = Table(
    "repeat_mark",
    METADATA,
    Column("id", String(64), primary_key=True),
    Column("photo", String(32), nullable=False, index=True),
    Column("document", LargeBinary, nullable=False),
    Column("saved_at", DateTime(timezone=True), nullable=False),
)
"""One point in one pass; ``photo`` is a digest of the secret, which the marks outlive."""
