"""Baselines frozen by somebody, and changes of the process that were agreed on.

Revision ID: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "baselines",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        sa.Column("decided_at", sa.BigInteger(), nullable=False),
        sa.Column("decided_by", sa.Text(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("until_us", sa.BigInteger()),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_baselines"),
    )
    op.create_table(
        "agreed_changes",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        sa.Column("told_at", sa.BigInteger(), nullable=False),
        sa.Column("told_by", sa.Text(), nullable=False),
        sa.Column("changed_us", sa.BigInteger(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_agreed_changes"),
    )


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
