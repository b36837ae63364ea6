"""The table of charts says what the program does."""

from __future__ import annotations

import re

import pytest

from qc.desk.chart_kinds import KINDS
from qc.stats.charts.rules import RECOMMENDED
from tests.docs import reading

ROWS = {
    cells[0].strip("`"): cells
    for line in reading.section("DEVELOPERS.md", "Charts").splitlines()
    if line.startswith("| `")
    for cells in [[cell.strip() for cell in line.strip("|").split("|")]]
}


def test_every_kind_has_its_row_and_no_other() -> None:
    assert set(ROWS) == set(KINDS)


@pytest.mark.parametrize("name", KINDS)
def test_the_columns_are_those_the_kind_takes(name: str) -> None:
    named = set(re.findall(r"--(\w+)", ROWS[name][2]))
    kind = KINDS[name]
    assert set(kind.columns) <= named <= {*kind.columns, *kind.optional}


@pytest.mark.parametrize("name", KINDS)
def test_the_rules_that_suit_are_those_the_program_recommends(name: str) -> None:
    said, suiting = ROWS[name][3], RECOMMENDED[name] - {"outside_limits"}
    if said == "all":
        assert len(suiting) == 7
    elif said.startswith("none"):
        assert not suiting
    else:
        assert set(said.split(", ")) == suiting
