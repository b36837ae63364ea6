"""A document refuses what no form could show; cells read as people write them."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from reports.cells import THIN, count, long_minute, percent, shown, sound
from reports.document import Cell, Column, ColumnKind, Table
from tests.reports.made import AS_OF, HOSTILE, UNFIT


def _table(kind: ColumnKind, *row: Cell) -> Table:
    return Table(title="T", columns=(Column(key="a", name="A", kind=kind),), rows=(row,))


def test_every_row_has_a_cell_for_each_column() -> None:
    with pytest.raises(ValueError, match=r"row 0 of 'T' has 2 cells for 1 columns"):
        _table("text", "x", "y")


@pytest.mark.parametrize(
    ("kind", "cell"),
    [("text", 3), ("count", "3"), ("count", True), ("moment", "2026-01-01"), ("tick", "x"),
     ("write", "x")],
)
def test_a_cell_is_of_its_columns_kind(kind: ColumnKind, cell: Cell) -> None:
    with pytest.raises(ValueError, match=f"cannot stand in the {kind} column a"):
        _table(kind, cell)


def test_a_moment_knows_its_zone() -> None:
    with pytest.raises(ValueError, match="has no time zone"):
        _table("moment", datetime(2026, 1, 1))
    _table("moment", datetime(2026, 1, 1, tzinfo=UTC))


@pytest.mark.parametrize("kind", ["text", "count", "moment", "tick", "write"])
def test_nothing_said_is_an_empty_cell(kind: ColumnKind) -> None:
    table = _table(kind, None)
    assert shown(table.columns[0], table.rows[0][0]) == ""


def test_formats() -> None:
    assert count(1_234_567) == f"1{THIN}234{THIN}567"
    assert [percent(share) for share in (0, 0.001, 0.5, 0.998, 1)] == [
        f"0{THIN}%", f"under 1{THIN}%", f"50{THIN}%", f"over 99{THIN}%", f"100{THIN}%"]
    assert long_minute(AS_OF) == "Fri 20 Nov 2026, 20:00"
    assert shown(Column(key="a", name="A", kind="moment"), AS_OF) == "2026-11-20 20:00"
    assert shown(Column(key="a", name="A", words=str.upper), "pass") == "PASS"


def test_text_keeps_all_but_what_no_file_may_hold() -> None:
    assert [sound(text) for text in HOSTILE] == list(HOSTILE)
    assert sound(UNFIT) == "bell\ufffd nul\ufffd escape\ufffd odd\ufffd"
    assert sound("half \ud83e a pair") == "half \ufffd a pair"
