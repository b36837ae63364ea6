"""The store's tables, made from the fields of the records.

The migrations are written out beside this and never derive from it; a test holds the two
together.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    BigInteger,
    Column,
    Double,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeEngine

from qc.domain.records import FINDINGS, RECORD_KINDS, Field, RecordKind

HEAD = "0007"
"""The newest migration; a test holds it against the folder."""

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

_NUMBER = BigInteger().with_variant(Integer(), "sqlite")  # INTEGER is SQLite's own row number
_FILLED = {"pressed_at", "disposition"}  # defaults of inspections that depend on other columns


def _type(field: Field) -> TypeEngine[Any]:
    if field.is_text:
        return Text()
    return BigInteger() if field.kind in {"instant", "whole"} else Double()


def _field_column(field: Field, kind: RecordKind) -> Column[Any]:
    filled = field.required or field.default is not None
    filled = filled or (kind.name == "inspections" and field.name in _FILLED)
    return Column(field.name, _type(field), nullable=not filled)


def _record_table(kind: RecordKind) -> Table:
    """All versions of the rows of a kind, in the order they were made."""
    return Table(
        kind.name,
        metadata,
        Column("number", _NUMBER, primary_key=True, autoincrement=False),
        Column("identity", BigInteger, nullable=False),
        Column("content", BigInteger, nullable=False),
        Column("revision", BigInteger, nullable=False),
        Column("changed_at", BigInteger, nullable=False),
        Column("changed_by", Text, nullable=False),
        Column("why", Text),
        Column("superseded_at", BigInteger),
        *(_field_column(field, kind) for field in kind.fields),
        UniqueConstraint("identity", "revision"),
    )


records: dict[str, Table] = {name: _record_table(kind) for name, kind in RECORD_KINDS.items()}
inspections = records["inspections"]
Index(None, inspections.c.pressed_at)
Index(None, inspections.c.piece_id)
for _name in ("job", "transfer_lot", "garment_lot"):
    # what few looks have is found without walking through all; with the time, already in order
    Index(None, inspections.c[_name], inspections.c.pressed_at)
Index(None, inspections.c.press, inspections.c.inspected_at)
_CORRECTED = inspections.c.revision > 1
Index("ix_inspections_corrected", inspections.c.changed_at, sqlite_where=_CORRECTED,
      postgresql_where=_CORRECTED)

findings = Table(
    "findings",
    metadata,
    Column("look", _NUMBER, ForeignKey("inspections.number"), primary_key=True),
    Column("position", BigInteger, primary_key=True, autoincrement=False),
    *(_field_column(field, FINDINGS) for field in FINDINGS.fields),
    sqlite_with_rowid=False,
)

defect_kinds = Table(
    "defect_kinds",
    metadata,
    Column("kind", Text, primary_key=True),
    Column("changed_at", BigInteger, nullable=False),
    Column("changed_by", Text, nullable=False),
)

settings = Table(
    "settings",
    metadata,
    Column("name", Text, primary_key=True),
    Column("value", Text, nullable=False),
)

baselines = Table(
    "baselines",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=False),
    Column("decided_at", BigInteger, nullable=False),
    Column("decided_by", Text, nullable=False),
    Column("from_us", BigInteger, nullable=False),
    Column("until_us", BigInteger),
    Column("why", Text, nullable=False),
    Column("evidence", Text, nullable=False),
)

agreed_changes = Table(
    "agreed_changes",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=False),
    Column("told_at", BigInteger, nullable=False),
    Column("told_by", Text, nullable=False),
    Column("changed_us", BigInteger, nullable=False),
    Column("why", Text, nullable=False),
)


stream_baselines = Table(
    "stream_baselines",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=False),
    Column("decided_at", BigInteger, nullable=False),
    Column("decided_by", Text, nullable=False),
    Column("stream", Text, nullable=False),
    Column("kind", Text, nullable=False),
    Column("from_us", BigInteger, nullable=False),
    Column("until_us", BigInteger, nullable=False),
    Column("why", Text, nullable=False),
    Column("known", Text, nullable=False),
    Column("evidence", Text, nullable=False),
)


def _step_table(name: str, key: str) -> Table:
    """Steps that people take, only ever added; ``key``: whose steps they are."""
    return Table(
        name,
        metadata,
        Column("number", _NUMBER, primary_key=True, autoincrement=False),
        Column(key, Text, nullable=False),
        Column("step", Text, nullable=False),
        Column("taken_at", BigInteger, nullable=False),
        Column("taken_by", Text, nullable=False),
        Column("said", Text, nullable=False),
    )


case_steps = _step_table("case_steps", "flag_id")
service_steps = _step_table("service_steps", "order_id")
list_steps = _step_table("list_steps", "entry")

audit = Table(
    "audit",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=False),
    Column("changed_at", BigInteger, nullable=False),
    Column("changed_by", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("source", Text),
    Column("detail", Text, nullable=False),
    Column("previous", Text, nullable=False),
    Column("chain", Text, nullable=False),
)

Index(None, audit.c.changed_at)

words = Table(
    "words",
    metadata,
    Column("number", _NUMBER, primary_key=True, autoincrement=False),
    Column("word", Text, nullable=False, unique=True),
)


def _tally(name: str, keys: tuple[str, ...], values: tuple[str, ...]) -> Table:
    return Table(
        name,
        metadata,
        *(Column(key, BigInteger, primary_key=True, autoincrement=False) for key in keys),
        *(Column(value, BigInteger, nullable=False) for value in values),
        sqlite_with_rowid=False,
    )


PLACE_KEYS = ("press", "fabric", "transfer", "location", "look")
piece_tally = _tally("piece_tally", ("hour_us", *PLACE_KEYS), ("n", "n_defective"))
defect_tally = _tally("defect_tally", ("hour_us", *PLACE_KEYS, "kind"), ("n",))
factor_tally = _tally(
    "factor_tally",
    ("factor", "hour_us", "level", "fabric", "transfer", "location", "look", "kind"),
    ("n",),
)
DAY_KEYS = ("day_us", "fabric", "transfer", "location")
day_tally = _tally("day_tally", ("look", *DAY_KEYS), ("n", "n_defective"))
day_defect_tally = _tally("day_defect_tally", ("look", "kind", *DAY_KEYS), ("n",))
mix_tally = _tally("mix_tally", ("part", *PLACE_KEYS[1:], "kind", "zone"), ("n",))
TALLIES = {table.name: table for table in (
    piece_tally, defect_tally, factor_tally, day_tally, day_defect_tally, mix_tally)}
"""Keys other than hour_us and day_us are numbers of `words`; 0 stands for no word."""
