"""Tallies by day and by mix of work alone; limits of a stream's chart frozen by somebody; looks
found by press, piece, job and lot without reading all of them.

The tallies are counted anew where a store comes from an earlier version (`qc.store.migrating`).

Revision ID: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
_TALLIES = {
    "day_tally": (("look", "day_us", "fabric", "transfer", "location"), ("n", "n_defective")),
    "day_defect_tally": (
        ("look", "kind", "day_us", "fabric", "transfer", "location"), ("n",)),
    "mix_tally": (("part", "fabric", "transfer", "location", "look", "kind", "zone"), ("n",)),
}


def upgrade() -> None:
    for name, (keys, values) in _TALLIES.items():
        op.create_table(
            name,
            *(sa.Column(key, sa.BigInteger(), nullable=False, autoincrement=False)
              for key in keys),
            *(sa.Column(value, sa.BigInteger(), nullable=False) for value in values),
            sa.PrimaryKeyConstraint(*keys, name=f"pk_{name}"),
            sqlite_with_rowid=False,
        )
    _stream_baselines()
    _indexes()


def _stream_baselines() -> None:
    op.create_table(
        "stream_baselines",
        sa.Column("number", _NUMBER, nullable=False, autoincrement=False),
        sa.Column("decided_at", sa.BigInteger(), nullable=False),
        sa.Column("decided_by", sa.Text(), nullable=False),
        sa.Column("stream", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("from_us", sa.BigInteger(), nullable=False),
        sa.Column("until_us", sa.BigInteger(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("known", sa.Text(), nullable=False),
        sa.Column("evidence", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("number", name="pk_stream_baselines"),
    )


def _indexes() -> None:
    op.create_index("ix_inspections_press", "inspections", ["press", "inspected_at"])
    op.create_index("ix_inspections_piece_id", "inspections", ["piece_id"])
    for name in ("job", "transfer_lot", "garment_lot"):
        op.create_index(f"ix_inspections_{name}", "inspections", [name, "pressed_at"])
    corrected = sa.text("revision > 1")
    op.create_index("ix_inspections_corrected", "inspections", ["changed_at"],
                    sqlite_where=corrected, postgresql_where=corrected)
    op.create_index("ix_audit_changed_at", "audit", ["changed_at"])


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
