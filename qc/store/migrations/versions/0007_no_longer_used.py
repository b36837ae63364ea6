"""What of the shop's lists is no longer used, and used again: steps, only ever added.

Revision ID: 0007
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "list_steps",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        sa.Column("entry", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("taken_at", sa.BigInteger(), nullable=False),
        sa.Column("taken_by", sa.Text(), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_list_steps"),
    )


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
