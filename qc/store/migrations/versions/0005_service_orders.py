"""Service orders of presses, pulls of paper at the corners, and where prints lie on a platen.

Revision ID: 0005
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    for name in ("print_width_mm", "print_height_mm", "platen_right_mm", "platen_near_mm"):
        op.add_column("placements", sa.Column(name, sa.Double()))
    op.create_table(
        "service_steps",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        sa.Column("order_id", sa.Text(), nullable=False),
        sa.Column("step", sa.Text(), nullable=False),
        sa.Column("taken_at", sa.BigInteger(), nullable=False),
        sa.Column("taken_by", sa.Text(), nullable=False),
        sa.Column("said", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_service_steps"),
    )
    op.create_table(
        "pull_checks",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        *(sa.Column(name, sa.BigInteger(), nullable=False)
          for name in ("identity", "content", "revision", "changed_at")),
        sa.Column("changed_by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text()),
        sa.Column("superseded_at", sa.BigInteger()),
        sa.Column("measured_at", sa.BigInteger(), nullable=False),
        sa.Column("press", sa.Text(), nullable=False),
        sa.Column("station", sa.Text()),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("grip", sa.BigInteger(), nullable=False),
        sa.Column("method", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_pull_checks"),
        sa.UniqueConstraint("identity", "revision", name="uq_pull_checks_identity"),
    )


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
