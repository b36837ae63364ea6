"""Looks are found by piece, job and lot without reading all of them.

Revision ID: 0006
"""

from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index("ix_inspections_piece_id", "inspections", ["piece_id"])
    for name in ("job", "transfer_lot", "garment_lot"):
        op.create_index(f"ix_inspections_{name}", "inspections", [name, "pressed_at"])


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
