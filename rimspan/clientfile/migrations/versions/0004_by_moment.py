"""An index of when revisions were saved, for the newest one and for those of a day.

Nothing is altered, so the triggers stand as they are.

Revision ID: 0004
"""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the index."""
    op.create_index("ix_revision_created_at", "revision", ["created_at"])
