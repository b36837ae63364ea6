"""Tallies by day and by mix of work alone, and indexes for the newest look and change.

The tallies are counted anew where a store comes from an earlier version (`qc.store.migrating`).

Revision ID: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_TABLES = {
    "day_tally": (("look", "day_us", "fabric", "transfer", "location"), ("n", "n_defective")),
    "day_defect_tally": (
        ("look", "kind", "day_us", "fabric", "transfer", "location"), ("n",)),
    "mix_tally": (("part", "fabric", "transfer", "location", "look", "kind", "zone"), ("n",)),
}


def upgrade() -> None:
    for name, (keys, values) in _TABLES.items():
        op.create_table(
            name,
            *(sa.Column(key, sa.BigInteger(), nullable=False, autoincrement=False)
              for key in keys),
            *(sa.Column(value, sa.BigInteger(), nullable=False) for value in values),
            sa.PrimaryKeyConstraint(*keys, name=f"pk_{name}"),
            sqlite_with_rowid=False,
        )
    op.create_index("ix_inspections_press", "inspections", ["press", "inspected_at"])
    corrected = sa.text("revision > 1")
    op.create_index("ix_inspections_corrected", "inspections", ["changed_at"],
                    sqlite_where=corrected, postgresql_where=corrected)
    op.create_index("ix_audit_changed_at", "audit", ["changed_at"])


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
