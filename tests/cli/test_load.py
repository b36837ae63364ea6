from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.running import Shell
from tests.qc.intake.files import HEADER, ROW, write

GOOD = f"{HEADER}\n{ROW}\n{ROW.replace('a1', 'a2')}scorch\n"


def test_the_answer_has_exactly_these_fields(shell: Shell, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER},weather\n{ROW},dry\n{ROW},dry\n{ROW.replace('a1', '')},wet\n")
    done = shell.run("load", path, "--new-codes", "--store", tmp_path / "shop.db", "--json")
    assert done.code == 1
    assert done.json == {"files": [{
        "file": str(path), "as": "inspections", "read": 3, "loaded": 1, "already_there": 1,
        "rejected": 1, "rejects_file": str(tmp_path / "file.rejects.csv"),
        "warnings": ["unknown column kept out: 'weather'"]}]}
    assert "weather" in done.err


def test_a_clean_load_makes_the_store_and_no_rejects_file(shell: Shell, tmp_path: Path) -> None:
    path = write(tmp_path, GOOD)
    done = shell.run("load", path, "--new-codes", "--store", tmp_path / "shop.db", "--json")
    assert done.code == 0
    assert done.json["files"][0]["rejects_file"] is None
    assert {p.name for p in tmp_path.iterdir()} >= {"file.csv", "shop.db"}
    assert not (tmp_path / "file.rejects.csv").exists()


@pytest.mark.parametrize("content, said", [
    (b"", "empty"), (b"\x00\x01\x02", "binary"), (b"a,b\n1,2\n", "--as"),
    (b"piece_id,press\n1,2\n", "inspected_at, fabric and transfer"),
    (f"{HEADER},temperature_k\n{ROW},430\n".encode(), "temperature_c or temperature_f"),
    (f"{HEADER},temperature_c,temperature_f\n{ROW},1,2\n".encode(), "given twice"),
    (f"{HEADER},dwell_s,dwell_s\n{ROW},1,2\n".encode(), "two columns"),
    (f"{HEADER[:-8]}\n{ROW[:-1]}\n".encode(), "needs the column defects"),
    (f"{HEADER},scortch\n{ROW},2\n".encode(), "--ignore scortch"),
    (f"{HEADER},scorch\n{ROW},2\n".encode(), "both"),
])
def test_files_that_cannot_be_used_are_one_line_and_exit_2(
    shell: Shell, tmp_path: Path, content: bytes, said: str
) -> None:
    path = write(tmp_path, content)
    done = shell.run("load", path, "--new-codes", "--store", tmp_path / "shop.db", "--json")
    assert done.code == 2
    assert said in done.err
    assert len(done.err.strip().splitlines()) == 1
    assert "Traceback" not in done.err
    entry = done.json["files"][0]
    assert (entry["read"], entry["loaded"], entry["rejects_file"]) == (0, 0, None)
    assert said in entry["error"]


def test_a_header_without_rows_is_said_to_have_none(shell: Shell, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER}\n")
    done = shell.run("load", path, "--store", tmp_path / "shop.db", "--json")
    assert (done.code, done.json["files"][0]["read"]) == (0, 0)
    assert "no rows below the header" in done.err
    assert done.json["files"][0]["warnings"] == [
        "there are no rows below the header; nothing was loaded"]


def test_only_files_that_are_not_there_make_no_store(shell: Shell, tmp_path: Path) -> None:
    done = shell.run("load", tmp_path / "none.csv", "--store", tmp_path / "shop.db", "--json")
    assert done.code == 2
    assert "there is no such file" in done.err
    assert not (tmp_path / "shop.db").exists()


def test_the_worst_of_several_files_counts(shell: Shell, tmp_path: Path) -> None:
    good, bad = write(tmp_path, GOOD), tmp_path / "none.csv"
    done = shell.run("load", good, bad, "--new-codes", "--store", tmp_path / "shop.db", "--json")
    assert done.code == 2
    assert [file["loaded"] for file in done.json["files"]] == [2, 0]


def test_a_kind_by_name_a_zone_and_a_column_left_out(shell: Shell, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER},row_no\n{ROW},7\n")
    done = shell.run("load", path, "--as", "inspections", "--ignore", "row_no", "--new-codes",
                     "--timezone", "Europe/Lisbon", "--store", tmp_path / "shop.db", "--json")
    assert done.code == 0
    assert done.json["files"][0]["warnings"] == []
    other = shell.run("load", path, "--timezone", "Asia/Tokyo", "--store", tmp_path / "shop.db")
    assert other.code == 2
    assert "rows were read in Europe/Lisbon" in other.err
    wrong = shell.run("load", path, "--as", "pieces", "--store", tmp_path / "shop.db")
    assert (wrong.code, wrong.out) == (2, "")
    assert "known kinds" in wrong.err


def test_a_dry_run_leaves_the_folder_as_it_was(shell: Shell, tmp_path: Path) -> None:
    path = write(tmp_path, f"{GOOD},,,,,x\n")
    dry = shell.run("load", path, "--new-codes", "--dry-run", "--store", tmp_path / "shop.db",
                    "--json")
    assert [p.name for p in tmp_path.iterdir()] == ["file.csv"]
    assert "nothing was written" in dry.err
    real = shell.run("load", path, "--new-codes", "--store", tmp_path / "shop.db", "--json")
    assert (dry.code, dry.json) == (real.code, real.json)


def test_a_store_that_is_none(shell: Shell, tmp_path: Path) -> None:
    store = write(tmp_path, "not a store", "shop.db")
    done = shell.run("load", write(tmp_path, GOOD), "--store", store, "--json")
    assert (done.code, done.out) == (3, "")
    assert "not a store" in done.err


def test_people_get_a_table_with_cells_as_text(shell: Shell, tmp_path: Path) -> None:
    path = write(tmp_path, GOOD, "[red]x.csv")
    done = shell.run("load", path, "--new-codes", "--store", tmp_path / "shop.db")
    assert done.code == 0
    assert "already there" in done.out.replace("\n", " ") or "already" in done.out


def test_a_long_load_shows_progress_on_standard_error_alone(
    shell: Shell, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("qc.cli.load.LONG_BYTES", 10)
    done = shell.run("load", write(tmp_path, GOOD), "--new-codes", "--store", tmp_path / "shop.db",
                     "--json")
    assert done.json["files"][0]["loaded"] == 2
    assert "file.csv" in done.err
