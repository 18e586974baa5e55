"""The first tables, and the triggers that keep saved revisions as they are.

Revision ID: 0001
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

FIXED = ("revision", "revision_photo")


def upgrade() -> None:
    """Make the tables and their triggers."""
    _clients()
    _revisions()
    for table in FIXED:
        for statement in _triggers(table, op.get_bind().dialect.name):
            op.execute(statement)


def _clients() -> None:
    op.create_table(
        "client",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column("name", sa.LargeBinary, nullable=False),
        sa.Column("note", sa.LargeBinary, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
    )
    op.create_table(
        "photo",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column(
            "client_id", sa.String(36), sa.ForeignKey("client.id"), nullable=False, index=True
        ),
        sa.Column("sha256", sa.String(64), nullable=False, index=True),
        sa.Column("filename", sa.LargeBinary, nullable=False),
        sa.Column("side", sa.String(5), nullable=False),
        sa.Column("size", sa.Integer, nullable=False),
        sa.UniqueConstraint("client_id", "side", "sha256"),
    )
    op.create_table(
        "blob",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "draft",
        sa.Column("client_id", sa.String(36), sa.ForeignKey("client.id"), primary_key=True),
        sa.Column("side", sa.String(5), primary_key=True),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("rev", sa.Integer, nullable=False),
    )


def _revisions() -> None:
    op.create_table(
        "revision",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column(
            "client_id", sa.String(36), sa.ForeignKey("client.id"), nullable=False, index=True
        ),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("token", sa.String(64), nullable=False, unique=True),
        sa.Column("side", sa.String(5), nullable=False),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.UniqueConstraint("client_id", "number"),
    )
    op.create_table(
        "revision_photo",
        sa.Column("revision_id", sa.String(36), sa.ForeignKey("revision.id"), primary_key=True),
        sa.Column("position", sa.Integer, primary_key=True),
        sa.Column("sha256", sa.String(64), nullable=False),
    )


def _triggers(table: str, dialect: str) -> list[str]:
    said = f"a saved {table.replace('_', ' ')} is never changed"
    if dialect == "sqlite":
        return [
            f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{said}'); END"
            for verb in ("UPDATE", "DELETE")
        ]
    return [
        f"CREATE FUNCTION {table}_fixed() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{said}'; END $$",
        f"CREATE TRIGGER {table}_fixed BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION {table}_fixed()",
        f"CREATE TRIGGER {table}_kept BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {table}_fixed()",
    ]
