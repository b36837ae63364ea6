"""What is wrong, cell by cell."""

from __future__ import annotations

from pathlib import Path

from qc.intake.reading import read_chunks
from qc.intake.row_report import LONGEST_VALUE, wrong_cells


def test_each_message_finds_its_column_and_what_stands_there(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    long = "x" * 1_000
    path.write_text("transfer,transfer_lot,press,defects,note\n"
                    f"film,L1,P9,scorch@nowhere,{long}\n"
                    "foam,,P1,zap,\n", encoding="utf-8")
    rejects = {
        0: (2, "transfer_lot is odd; press 'P9' is not on the list of presses; zone 'nowhere' of"
               " 'scorch@nowhere' is unknown; note has 1000 characters; conflict: another row"),
        1: (3, "defect kind 'zap' is not on the list; transfer is odd"),
    }
    found = wrong_cells(read_chunks(str(path)), rejects, most=10)
    assert [(one.line, one.column, one.value) for one in found] == [
        (2, "transfer_lot", "L1"), (2, "press", "P9"), (2, "defects", "scorch@nowhere"),
        (2, "note", "x" * (LONGEST_VALUE - 1) + "…"), (2, "", ""), (3, "defects", "zap"),
        (3, "transfer", "foam")]
    assert len(wrong_cells(read_chunks(str(path)), rejects, most=1)) == 5


def test_a_row_cut_short_has_nothing_in_its_last_columns(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("press,note\nP1\n", encoding="utf-8")
    (one,) = wrong_cells(read_chunks(str(path)), {0: (2, "note is blank")}, most=10)
    assert (one.column, one.value) == ("note", "")
