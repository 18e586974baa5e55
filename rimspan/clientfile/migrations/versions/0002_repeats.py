"""Marks that piercers repeated, and the secrets of their photos while the client is kept.

Only new tables: nothing is altered, so the triggers of 0001 stand as they are.

Revision ID: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "repeat_photo",
        sa.Column("id", sa.String(36), primary_key=True),
        sa.Column(
            "client_id", sa.String(36), sa.ForeignKey("client.id"), nullable=False, index=True
        ),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.UniqueConstraint("client_id", "sha256"),
    )
    op.create_table(
        "repeat_mark",
        sa.Column("id", sa.String(64), primary_key=True),
        sa.Column("photo", sa.String(32), nullable=False, index=True),
        sa.Column("document", sa.LargeBinary, nullable=False),
        sa.Column("saved_at", sa.DateTime(timezone=True), nullable=False),
    )
