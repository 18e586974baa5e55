"""Records beside the assessments: of a client, and of the studio.

Revision ID: 0006
"""

from typing import Any

import sqlalchemy as sa
from alembic import op

from rimspan.clientfile.triggers import fix

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make both tables; their rows never change."""
    of = sa.ForeignKey("client.id")
    client = sa.Column("client_id", sa.String(36), of, nullable=False, index=True)
    _make("client_record", client)
    _make("studio_record")
    for table in ("client_record", "studio_record"):
        fix(op.get_bind(), table)


def _make(name: str, *of: "sa.Column[Any]") -> None:
    numbered = [*(column.name for column in of), "kind", "number"]
    op.create_table(
        name,
        sa.Column("id", sa.String(36), primary_key=True),
        *of,
        sa.Column("kind", sa.String(20), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("token", sa.String(64), nullable=False, unique=True),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.UniqueConstraint(*numbered),
    )
