"""Steps of cases, and when a job left the house.

Revision ID: 0003
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "case_steps",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        sa.Column("flag_id", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("taken_at", sa.BigInteger(), nullable=False),
        sa.Column("taken_by", sa.Text(), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_case_steps"),
    )
    op.add_column("jobs", sa.Column("shipped_at", sa.BigInteger()))


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
