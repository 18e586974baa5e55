"""Keys, the chain, and everything sealed; what lay open in an older store is sealed here.

Tables whose columns change are made anew, not altered, and the triggers of all that never change
are made with them: altering a table on the embedded engine would silently lose its triggers.

Given with the connection: ``ring``, the store's keys; ``slots``, how they are kept; ``blobs``,
where photos' bytes go.

Revision ID: 0003
"""

from typing import Any

import sqlalchemy as sa
from alembic import context, op

from rimspan.clientfile.sealing_older import read_older, seal_older
from rimspan.clientfile.triggers import fix, release

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

MADE_ANEW = (
    "revision_photo",
    "revision",
    "repeat_photo",
    "repeat_mark",
    "draft",
    "photo",
    "client",
)
FIXED = (
    "client",
    "client_name",
    "erased",
    "photo",
    "revision",
    "revision_photo",
    "void",
    "consent",
    "person",
    "setting",
    "chain",
)


def upgrade() -> None:
    """Make the tables anew, sealed."""
    given = context.config.attributes
    connection = op.get_bind()
    older = read_older(connection)
    for table in ("revision", "revision_photo"):
        release(connection, table)
    for table in MADE_ANEW:
        op.drop_table(table)
    _clients()
    _photos()
    _revisions()
    _studio()
    for table in FIXED:
        fix(connection, table)
    for kind, document in given["slots"].items():
        slot = sa.table("key_slot", sa.column("kind"), sa.column("document", sa.LargeBinary))
        connection.execute(slot.insert().values(kind=kind, document=document))
    seal_older(connection, older, given["ring"], given["blobs"])
    op.drop_table("blob")


def _id(length: int = 36) -> "sa.Column[Any]":
    return sa.Column("id", sa.String(length), primary_key=True)


def _client(primary_key: bool = False) -> "sa.Column[Any]":
    kept: dict[str, Any] = {"nullable": False, "index": True}
    if primary_key:
        kept = {"primary_key": True}
    return sa.Column("client_id", sa.String(36), sa.ForeignKey("client.id"), **kept)


def _sealed(name: str = "document") -> "sa.Column[Any]":
    return sa.Column(name, sa.LargeBinary, nullable=False)


def _of_revision() -> "sa.Column[Any]":
    of = sa.ForeignKey("revision.id")
    return sa.Column("revision_id", sa.String(36), of, primary_key=True)


def _at(name: str = "at") -> "sa.Column[Any]":
    return sa.Column(name, sa.DateTime(timezone=True), nullable=False)


def _text(name: str, length: int, **more: object) -> "sa.Column[Any]":
    kept: dict[str, Any] = {"nullable": False, **more}
    return sa.Column(name, sa.String(length), **kept)


def _whole(name: str, **more: object) -> "sa.Column[Any]":
    kept: dict[str, Any] = {"nullable": False, **more}
    return sa.Column(name, sa.Integer, **kept)


def _clients() -> None:
    op.create_table("client", _id(), _at("created_at"))
    op.create_table("client_key", _client(True), _sealed("wrapped"))
    op.create_table(
        "client_name",
        _client(True),
        _whole("version", primary_key=True),
        _sealed("name"),
        _sealed("note"),
        _at(),
    )
    op.create_table("erased", _client(True), _text("kind", 10), _at())
    op.create_table("consent", _id(), _client(), _sealed(), _at())


def _photos() -> None:
    op.create_table("photo", _id(), _client(), _text("side", 5), _sealed(), _at())
    op.create_table(
        "photo_index",
        sa.Column("photo_id", sa.String(36), sa.ForeignKey("photo.id"), primary_key=True),
        _client(),
        _text("side", 5),
        _text("tag", 64, index=True),
        sa.UniqueConstraint("client_id", "side", "tag"),
    )
    op.create_table("photo_blob", _id(), _sealed("data"))
    op.create_table(
        "repeat_photo", _id(), _client(), _text("tag", 64), sa.UniqueConstraint("client_id", "tag")
    )
    op.create_table(
        "repeat_mark", _id(64), _text("photo", 32, index=True), _sealed(), _at("saved_at")
    )


def _revisions() -> None:
    op.create_table(
        "draft", _client(True), _text("side", 5, primary_key=True), _sealed(), _whole("rev")
    )
    op.create_table(
        "revision",
        _id(),
        _client(),
        _whole("number"),
        _text("token", 64, unique=True),
        _text("side", 5),
        _sealed(),
        _at("created_at"),
        sa.UniqueConstraint("client_id", "number"),
    )
    op.create_table(
        "revision_photo",
        _of_revision(),
        _whole("position", primary_key=True),
        sa.Column("photo_id", sa.String(36), sa.ForeignKey("photo.id"), nullable=False, index=True),
    )
    op.create_table("void", _of_revision(), _client(), _sealed(), _at())


def _studio() -> None:
    op.create_table("key_slot", _text("kind", 10, primary_key=True), _sealed())
    op.create_table("person", _id(), _whole("version", primary_key=True), _sealed(), _at())
    op.create_table(
        "attempt",
        _text("tag", 64, primary_key=True),
        _whole("failures"),
        sa.Column("not_before_s", sa.Float, nullable=False),
    )
    op.create_table(
        "setting",
        _text("name", 20, primary_key=True),
        _whole("version", primary_key=True),
        _sealed(),
        _at(),
    )
    op.create_table(
        "chain",
        _whole("seq", primary_key=True, autoincrement=False),
        _at(),
        _text("kind", 10),
        _text("client_id", 36, nullable=True, index=True),
        _text("record", 60, nullable=True),
        _text("digest", 64),
        _sealed("detail"),
        _text("mac", 64),
    )
