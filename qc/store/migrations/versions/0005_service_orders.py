"""Service orders of presses, and where prints lie on a platen.

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


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
