"""A list of the clients of whom something has to go, so that nobody looks through all for them.

Those that an older program left: walk-ins that nobody kept, and whoever is gone with photos that
may still lie there.

Revision ID: 0005
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

WALK_INS = """
INSERT INTO leaving (client_id) SELECT id FROM client
WHERE NOT EXISTS (SELECT 1 FROM client_key WHERE client_key.client_id = client.id)
AND NOT EXISTS (SELECT 1 FROM client_name WHERE client_name.client_id = client.id)
AND NOT EXISTS (SELECT 1 FROM erased WHERE erased.client_id = client.id)
"""
GONE = """
INSERT INTO leaving (client_id) SELECT client_id FROM erased
WHERE EXISTS (SELECT 1 FROM photo WHERE photo.client_id = erased.client_id)
"""


def upgrade() -> None:
    """Make the list."""
    of = sa.ForeignKey("client.id")
    op.create_table("leaving", sa.Column("client_id", sa.String(36), of, primary_key=True))
    for statement in (WALK_INS, GONE):
        op.execute(statement)
