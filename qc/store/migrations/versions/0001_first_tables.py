"""The first tables.

Revision ID: 0001
"""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

Names = tuple[str, str]  # columns that must be filled, columns that may be empty
_NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def _columns(kind: Any, needed: str, optional: str) -> list[sa.Column[Any]]:
    return [
        *(sa.Column(name, kind, nullable=False) for name in needed.split()),
        *(sa.Column(name, kind, nullable=True) for name in optional.split()),
    ]


def _table(
    name: str, *, key: str, number: str = "", whole: Names = ("", ""), text: Names = ("", ""),
    double: Names = ("", ""), more: Sequence[sa.Constraint] = (), rowid: bool = True,
) -> None:
    op.create_table(
        name,
        *(sa.Column(column, _NUMBER, nullable=False, autoincrement=False)
          for column in number.split()),
        *_columns(sa.BigInteger(), *whole),
        *_columns(sa.Text(), *text),
        *_columns(sa.Double(), *double),
        sa.PrimaryKeyConstraint(*key.split(), name=f"pk_{name}"),
        *more,
        **({} if rowid else {"sqlite_with_rowid": False}),
    )


def _record_table(
    name: str, *, whole: Names = ("", ""), text: Names = ("", ""), double: Names = ("", "")
) -> None:
    _table(
        name, key="number", number="number",
        whole=(f"identity content revision changed_at {whole[0]}", f"superseded_at {whole[1]}"),
        text=(f"changed_by {text[0]}", f"why {text[1]}"),
        double=double,
        more=[sa.UniqueConstraint("identity", "revision", name=f"uq_{name}_identity")],
    )


def upgrade() -> None:
    _table(
        "audit",
        key="number",
        number="number",
        whole=("changed_at", ""),
        text=("changed_by what detail previous chain", "source"),
    )
    _table(
        "defect_kinds",
        key="kind",
        whole=("changed_at", ""),
        text=("kind changed_by", ""),
    )
    _table(
        "defect_tally",
        key="hour_us press fabric transfer location look kind",
        whole=("hour_us press fabric transfer location look kind n", ""),
        rowid=False,
    )
    _record_table(
        "fabrics",
        text=("fabric", "name surface"),
        double=("", "cotton_pct polyester_pct other_pct weight_gsm heat_limit_c"),
    )
    _table(
        "factor_tally",
        key="factor hour_us level fabric transfer location look kind",
        whole=("factor hour_us level fabric transfer location look kind n", ""),
        rowid=False,
    )
    _record_table(
        "inspections",
        whole=("attempt inspected_at pressed_at pieces", "defective"),
        text=("piece_id stage press fabric transfer disposition",
            "station location size job garment_lot transfer_lot operator inspector "
            "pressure_class cover note"),
        double=("",
            "temperature_c temperature_lower_c dwell_s prepress_s second_press_s "
            "pressure_kpa pressure_dial peel_wait_s dx_mm dy_mm rotation_deg"),
    )
    op.create_index("ix_inspections_pressed_at", "inspections", ["pressed_at"])
    _record_table(
        "instruments",
        whole=("", "calibrated_at due_at"),
        text=("instrument", ""),
        double=("", "uncertainty_c k"),
    )
    _record_table(
        "jobs",
        whole=("", "ordered"),
        text=("job", "fabric transfer location"),
    )
    _record_table(
        "machine_checks",
        whole=("measured_at", ""),
        text=("press quantity state", "instrument"),
        double=("set_value measured_value", ""),
    )
    _table(
        "piece_tally",
        key="hour_us press fabric transfer location look",
        whole=("hour_us press fabric transfer location look n n_defective", ""),
        rowid=False,
    )
    _record_table(
        "placements",
        text=("location", "reference part_measured"),
        double=("", "dx_tolerance_mm dy_tolerance_mm rotation_tolerance_deg"),
    )
    _record_table(
        "platen_readings",
        whole=("measured_at row col", ""),
        text=("survey_id press platen state", "instrument"),
        double=("setpoint_c reading_c", ""),
    )
    _record_table(
        "presses",
        text=("press", "name kind heated_lower"),
        double=("",
            "platen_width_mm platen_height_mm temperature_tolerance_c "
            "uniformity_tolerance_c check_every_days"),
    )
    _record_table(
        "recipes",
        whole=("", "valid_from"),
        text=("fabric transfer version", "pressure_class peel cover"),
        double=("",
            "temperature_c temperature_low_c temperature_high_c dwell_s dwell_low_s "
            "dwell_high_s pressure_kpa pressure_low_kpa pressure_high_kpa "
            "pressure_dial pressure_low_dial pressure_high_dial peel_wait_s "
            "second_press_s"),
    )
    _table(
        "settings",
        key="name",
        text=("name value", ""),
    )
    _record_table(
        "transfers",
        text=("transfer", "name kind"),
    )
    _table(
        "words",
        key="number",
        number="number",
        text=("word", ""),
        more=[sa.UniqueConstraint("word", name="uq_words_word")],
    )
    _table(
        "findings",
        key="look position",
        number="look",
        whole=("position n", ""),
        text=("kind", "zone"),
        double=("", "extent_mm"),
        more=[sa.ForeignKeyConstraint(["look"], ["inspections.number"], name="fk_findings_look")],
        rowid=False,
    )


def downgrade() -> None:
    raise NotImplementedError("a store goes forward only; to go back, take a backup's copy")
