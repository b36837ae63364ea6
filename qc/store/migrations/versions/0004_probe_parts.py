"""What the uncertainty of an instrument is made up of.

Revision ID: 0004
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("instruments", sa.Column("sensor", sa.Text()))
    for name in ("meter_c", "contact_c", "repeat_c"):
        op.add_column("instruments", sa.Column(name, sa.Double()))


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
