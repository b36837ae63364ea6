from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest

from qc.desk.loading import LoadReport, LoadRequest, load_files, shop_to_load
from qc.desk.shop import Shop, open_shop
from qc.domain.instants import parse_instant
from qc.errors import InputError
from qc.intake import csv_files
from qc.store import inspections
from qc.store.audit import read_audit
from qc.store.codes import known_codes
from qc.store.corrections import looks_at
from qc.store.inspections import read_findings, read_looks
from qc.store.records import read_records
from tests.qc.intake.files import HEADER, LISBON, NOW_US, ROW, write

LISTS = {"presses.csv": "press\nP1\nP2\n", "fabrics.csv": "fabric\ntee\n",
         "transfers.csv": "transfer\nfilm\n"}


@pytest.fixture
def shop(place: str) -> Iterator[Shop]:
    """A fresh shop, on SQLite and on PostgreSQL."""
    opened = open_shop(place, create=True)
    yield opened
    opened.store.close()


@pytest.fixture
def sqlite_shop(tmp_path: Path) -> Iterator[Shop]:
    opened = open_shop(str(tmp_path / "shop.db"), create=True)
    yield opened
    opened.store.close()


def load(shop: Shop, *paths: Path, **more: object) -> LoadReport:
    request = LoadRequest(paths=tuple(map(str, paths)), **more)  # type: ignore[arg-type]
    return load_files(shop, request, by="ann", at_us=NOW_US)


def counts(report: LoadReport, at: int = 0) -> tuple[int, int, int, int]:
    file = report.files[at]
    return file.n_read, file.n_loaded, file.n_already_there, file.n_rejected


def looks(shop: Shop) -> list[str]:
    return read_looks(shop.store, as_of_us=NOW_US)["piece_id"].astype(object).tolist()


def test_rows_are_kept_and_the_same_rows_again_change_nothing(shop: Shop, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER},dwell_s\n{ROW}scorch@top:3*2,12\n"
                           f"{ROW.replace('a1', 'a2')},\n")
    first = load(shop, path, new_codes=True)
    assert counts(first) == (2, 2, 0, 0)
    assert first.exit_code == 0
    assert first.files[0].rejects_file is None
    assert read_looks(shop.store, as_of_us=NOW_US)["dwell_s"].tolist()[0] == 12
    found = read_findings(shop.store, as_of_us=NOW_US)
    assert found[["kind", "zone", "extent_mm", "n"]].to_numpy().tolist() == [
        ["scorch", "top", 3.0, 2]]
    change = shop.store.change_number()
    assert counts(load(shop, path, new_codes=True)) == (2, 0, 2, 0)
    assert shop.store.change_number() == change


def test_other_units_and_columns_in_another_order_are_the_same_row(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    a = write(tmp_path, f"{HEADER},temperature_c\n{ROW},160\n", "a.csv")
    b = write(tmp_path, f"temperature_f;{HEADER.replace(',', ';')}\n"
                        f"320;{ROW.replace(',', ';')}\n", "b.csv")
    assert counts(load(sqlite_shop, a, b, new_codes=True), 1) == (1, 0, 1, 0)


def test_conflicts_become_rejects_in_the_file_and_with_the_store(
    shop: Shop, tmp_path: Path
) -> None:
    path = write(tmp_path, f"{HEADER},note\n{ROW},first\n{ROW},first\n{ROW},other\n")
    report = load(shop, path, new_codes=True)
    assert counts(report) == (3, 1, 1, 1)
    assert report.exit_code == 1
    rows = list(csv.reader((tmp_path / "file.rejects.csv").open(newline="")))
    assert rows[0][:3] == ["line", "reason", "piece_id"]
    assert rows[1][0] == "4"
    assert rows[1][1].startswith("conflict: a different row with the same piece_id, attempt")
    late = write(tmp_path, f"{HEADER},note\n{ROW},later\n", "late.csv")
    assert counts(load(shop, late, new_codes=True)) == (1, 0, 0, 1)
    assert looks(shop) == ["a1"]


def test_a_changed_list_row_is_a_version_not_a_conflict(shop: Shop, tmp_path: Path) -> None:
    load(shop, write(tmp_path, "press,name\nP1,old\n", "a.csv"))
    report = load(shop, write(tmp_path, "press,name\nP1,new\n", "b.csv"))
    assert counts(report) == (1, 1, 0, 0)
    assert read_records(shop.store, "presses")["name"].tolist() == ["new"]


def test_rejects_are_as_they_were_and_load_when_put_right(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    note = '" =cmd|x; ""two""\nlines "'
    text = (f"{HEADER},dwell_s,note\n{ROW},12,fine\n"
            f"{ROW.replace('a1', ' a2 ')}nokind,-5,{note}\n{ROW.replace('a1', 'a3')},1\n")
    path = write(tmp_path, text.replace(",", ";").replace("=cmd|x;", "=cmd|x,"))
    report = load(sqlite_shop, path, new_codes=False)
    assert counts(report) == (3, 0, 0, 3)
    report = load(sqlite_shop, path, new_codes=True)
    rejects = Path(report.files[0].rejects_file or "")
    assert rejects == tmp_path / "file.rejects.csv"
    rows = list(csv.reader(rejects.open(newline=""), delimiter=";"))
    assert rows[0] == ["line", "reason", *HEADER.split(","), "dwell_s", "note"]
    assert [row[0] for row in rows[1:]] == ["3", "5"]
    assert rows[1][2:] == [" a2 ", "2026-03-01T10:00", "P1", "tee", "film", "nokind", "-5",
                           ' =cmd|x, "two"\nlines ']
    assert rows[2][2:] == ["a3", "2026-03-01T10:00", "P1", "tee", "film", "", "1"]
    rows[1][8] = "5"
    rows[2].append("")
    with rejects.open("w", newline="") as out:
        csv.writer(out, delimiter=";").writerows(rows)
    again = load(sqlite_shop, rejects, new_codes=True)
    assert counts(again) == (2, 2, 0, 0)
    (held,) = again.files[0].warnings
    assert held.startswith("1 row with defects does not say what was done")
    assert looks(sqlite_shop) == ["a1", "a2", "a3"]


@pytest.mark.parametrize("cell, written", [
    ("=1+1", "'=1+1"), ("+1+1", "'+1+1"), ("-2+cmd|x", "'-2+cmd|x"), ("@SUM(A1)", "'@SUM(A1)"),
    ("'=1", "'=1"), ("''=1", "''=1"), ("-5", "-5"), ("+3.5", "+3.5"), ("-", "-"), ("3-4", "3-4"),
    ("it's = 1", "it's = 1"),
])
def test_a_rejected_cell_is_never_run_as_a_formula_and_loads_back_as_it_was(
    sqlite_shop: Shop, tmp_path: Path, cell: str, written: str
) -> None:
    good = write(tmp_path, f"{HEADER},dwell_s,note\n{ROW.replace('a1', 'a0')},5,{cell}\n")
    load(sqlite_shop, good, new_codes=True)
    path = write(tmp_path, f"{HEADER},dwell_s,note\n{ROW},-5,{cell}\n")
    rejects = Path(load(sqlite_shop, path, new_codes=True).files[0].rejects_file or "")
    rows = list(csv.reader(rejects.open(newline="")))
    assert rows[1][-2:] == ["-5", written]
    rows[1][-2] = "5"
    with rejects.open("w", newline="") as out:
        csv.writer(out).writerows(rows)
    assert counts(load(sqlite_shop, rejects, new_codes=True)) == (1, 1, 0, 0)
    direct, back = (looks_at(sqlite_shop.store, piece)[0]["note"] for piece in ("a0", "a1"))
    assert back == direct == (cell[1:] if cell.startswith("'") else cell)


@pytest.mark.parametrize("header, cells, n_held", [
    (HEADER, ("scorch", "", "scorch", "zap@nowhere"), 2), (f"{HEADER},disposition",
    ("scorch,", "scorch,scrap", ",", "bubble,hold"), 1), (HEADER, ("", ""), 0),
])
def test_pieces_taken_as_on_hold_because_nothing_is_said_are_counted(
    sqlite_shop: Shop, tmp_path: Path, header: str, cells: tuple[str, ...], n_held: int
) -> None:
    rows = [f"{ROW.replace('a1', f'a{at}')}{cell}\n" for at, cell in enumerate(cells)]
    path = write(tmp_path, f"{header}\n{''.join(rows)}")
    for dry in (True, False):
        said = [one for one in load(sqlite_shop, path, new_codes=True, dry_run=dry).files[0]
                .warnings if "on hold" in one]
        assert [one.split(" ")[0] for one in said] == ([str(n_held)] if n_held else [])
    held = read_looks(sqlite_shop.store, as_of_us=10**17)["disposition"].eq("hold").sum()
    assert held == n_held + sum(cell.endswith(",hold") for cell in cells)


def test_rejects_of_a_rejects_file_have_the_two_columns_once(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    path = write(tmp_path, f"line,reason,{HEADER}\n7,why,{ROW.replace('tee', 'wool')}\n")
    report = load(sqlite_shop, path, rejects=str(tmp_path / "again.csv"))
    rows = list(csv.reader((tmp_path / "again.csv").open(newline="")))
    assert rows[0] == ["line", "reason", *HEADER.split(",")]
    assert rows[1][0] == "2"
    assert len(rows[1]) == len(rows[0])
    assert report.files[0].rejects_file == str(tmp_path / "again.csv")


def test_rejects_of_a_workbook_are_written_as_csv(sqlite_shop: Shop, tmp_path: Path) -> None:
    import xlsxwriter

    with xlsxwriter.Workbook(str(tmp_path / "book.xlsx")) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, [*HEADER.split(","), "dwell_s"])
        sheet.write_row(1, 0, ["a1", "2026-03-01T10:00", "P1", "tee", "film", "", 12.0])
        sheet.write_row(2, 0, ["a2", "2026-03-01T10:00", "P1", "tee", "film", "", -1])
    report = load(sqlite_shop, tmp_path / "book.xlsx", new_codes=True)
    assert counts(report) == (2, 1, 0, 1)
    rows = list(csv.reader((tmp_path / "book.rejects.csv").open(newline="")))
    assert rows[1] == ["3", "dwell_s is -1, allowed: 0 to 600 s", "a2", "2026-03-01T10:00", "P1",
                       "tee", "film", "", "-1"]


def test_lists_load_before_what_names_them_and_answers_keep_the_order(
    shop: Shop, tmp_path: Path
) -> None:
    paths = [write(tmp_path, f"{HEADER}\n{ROW}\n", "looks.csv")]
    paths += [write(tmp_path, text, name) for name, text in LISTS.items()]
    report = load(shop, *paths)
    assert [file.kind for file in report.files] == [
        "inspections", "presses", "fabrics", "transfers"]
    assert counts(report) == (1, 1, 0, 0)
    assert report.exit_code == 0


def test_one_bad_file_does_not_stop_the_others_and_the_worst_code_counts(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    good = write(tmp_path, f"{HEADER}\n{ROW}\n{ROW.replace('a1', '')}\n", "good.csv")
    bad = write(tmp_path, "\x00\x01", "bad.csv")
    report = load(sqlite_shop, bad, good, tmp_path / "none.csv", new_codes=True)
    assert [file.exit_code for file in report.files] == [2, 1, 2]
    assert report.exit_code == 2
    assert counts(report, 1) == (2, 1, 0, 1)
    assert "binary" in (report.files[0].error or "")
    assert "no such file" in (report.files[2].error or "")


def test_a_refused_file_leaves_nothing(sqlite_shop: Shop, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER},scortch\n{ROW},1\n")
    report = load(sqlite_shop, path, new_codes=True)
    assert report.exit_code == 2
    assert str(path) in (report.files[0].error or "")
    assert looks(sqlite_shop) == []
    assert known_codes(sqlite_shop.store)["presses"] == frozenset()


def test_new_codes_are_added_only_when_asked(sqlite_shop: Shop, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER}\n{ROW}own_kind\n")
    assert counts(load(sqlite_shop, path)) == (1, 0, 0, 1)
    assert counts(load(sqlite_shop, path, new_codes=True)) == (1, 1, 0, 0)
    known = known_codes(sqlite_shop.store)
    assert (known["presses"], known["transfers"]) == ({"P1"}, {"film"})
    assert "own_kind" in known["kinds"]
    wide = write(tmp_path, f"{HEADER[:-8]},own_kind\n{ROW.replace('a1', 'a2')}3\n", "wide.csv")
    assert counts(load(sqlite_shop, wide)) == (1, 1, 0, 0)


def _trace(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_dry_run_answers_the_same_and_leaves_no_trace(tmp_path: Path) -> None:
    paths = [write(tmp_path, f"{HEADER},note\n{ROW},x\n{ROW},x\n{ROW},y\n,,,,,,\nbad\n", "a.csv"),
             write(tmp_path, f"{HEADER},note\n{ROW},x\n{ROW.replace('a1', 'a2')},z\n", "b.csv"),
             *[write(tmp_path, text, name) for name, text in LISTS.items()],
             write(tmp_path, "press,name\nP1,other\nP2,\n", "more.csv")]
    before = _trace(tmp_path)
    place = str(tmp_path / "shop.db")
    answers = []
    for dry_run in (True, False):
        with shop_to_load(place, timezone="Europe/Lisbon", dry_run=dry_run, by="ann",
                          at_us=NOW_US) as shop:
            answers.append(load(shop, *paths, dry_run=dry_run))
        if dry_run:
            assert _trace(tmp_path) == before
    assert answers[0] == answers[1]
    assert [counts(answers[1], at) for at in (0, 1, 5)] == [(4, 1, 1, 2), (2, 1, 1, 0),
                                                            (2, 1, 1, 0)]


def test_a_dry_run_on_a_store_that_is_there(shop: Shop, tmp_path: Path) -> None:
    path = write(tmp_path, f"{HEADER}\n{ROW}\n")
    load(shop, path, new_codes=True)
    change = shop.store.change_number()
    more = write(tmp_path, f"{HEADER}\n{ROW}\n{ROW.replace('a1', 'a2')}\n{ROW}scorch\n", "b.csv")
    report = load(shop, more, new_codes=True, dry_run=True)
    assert counts(report) == (3, 1, 1, 1)
    assert not (tmp_path / "b.rejects.csv").exists()
    assert shop.store.change_number() == change


def _zoned(place: str, timezone: str | None, **more: object) -> dict[str, str]:
    given = {"dry_run": False, "by": "ann", "at_us": NOW_US} | more
    with shop_to_load(place, timezone=timezone, **given) as shop:  # type: ignore[arg-type]
        return dict(shop.settings)


def test_the_zone_is_kept_and_audited(place: str, tmp_path: Path) -> None:
    assert _zoned(place, "Europe/Lisbon")["timezone"] == "Europe/Lisbon"
    assert _zoned(place, None)["timezone"] == "Europe/Lisbon"
    with shop_to_load(place, timezone=None, dry_run=False, by="ann", at_us=NOW_US) as shop:
        path = write(tmp_path, f"{HEADER}\n{ROW.replace('03-01', '05-01')}\n")
        load(shop, path, new_codes=True)
        seen = read_looks(shop.store, as_of_us=NOW_US)["inspected_at"].tolist()
        assert seen == [parse_instant("2026-05-01T09:00Z", LISBON)]  # one hour ahead in summer
        assert "change setting" in read_audit(shop.store)["what"].tolist()
    with pytest.raises(InputError, match="rows were read in Europe/Lisbon.*qc settings timezone"):
        _zoned(place, "Asia/Tokyo")
    assert _zoned(place, "Europe/Lisbon")["timezone"] == "Europe/Lisbon"


def test_no_such_zone(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Area/City"):
        _zoned(str(tmp_path / "shop.db"), "Nowhere/Town")
    assert not (tmp_path / "shop.db").exists()


def test_lists_alone_do_not_fix_the_zone(tmp_path: Path) -> None:
    place = str(tmp_path / "shop.db")
    with shop_to_load(place, timezone=None, dry_run=False, by="ann", at_us=NOW_US) as shop:
        load(shop, write(tmp_path, "press\nP1\n"))
    assert _zoned(place, "Asia/Tokyo")["timezone"] == "Asia/Tokyo"


@pytest.mark.parametrize("more, said", [
    ({"kind": "machines"}, "known kinds: inspections"),
    ({"rejects": "."}, "name a file"), ({"rejects": "no/folder/x.csv"}, "folder that exists"),
])
def test_wrong_use_is_refused_before_anything_is_read(
    sqlite_shop: Shop, tmp_path: Path, more: dict[str, str], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        load(sqlite_shop, write(tmp_path, f"{HEADER}\n{ROW}\n"), **more)


def test_rejects_never_go_over_the_input_nor_two_inputs_into_one(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    a = write(tmp_path, f"{HEADER}\n{ROW}\n", "a.csv")
    b = write(tmp_path, f"{HEADER}\n{ROW}\n", "a.txt")
    with pytest.raises(InputError, match="the input itself"):
        load(sqlite_shop, a, rejects=str(a))
    with pytest.raises(InputError, match="each input gets its own"):
        load(sqlite_shop, a, b, rejects=str(tmp_path / "r.csv"))
    report = load(sqlite_shop, a, b)
    assert [file.rejects_file for file in report.files] == [
        str(tmp_path / "a.rejects.csv"), str(tmp_path / "a.txt.rejects.csv")]


def test_an_old_rejects_file_is_left_and_named(sqlite_shop: Shop, tmp_path: Path) -> None:
    old = write(tmp_path, "being put right by hand", "file.rejects.csv")
    report = load(sqlite_shop, write(tmp_path, f"{HEADER}\n{ROW}\n"), new_codes=True)
    assert old.read_text() == "being put right by hand"
    assert "is from an earlier load" in report.files[0].warnings[0]
    assert report.files[0].rejects_file is None


def test_a_file_in_many_blocks_is_one_transaction(
    sqlite_shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csv_files, "BLOCK_BYTES", 600)
    rows = [f"a{n},2026-03-01T10:00,P{n % 3},tee,film,{'scorch;bubble' if n % 7 == 0 else ''},"
            f"{-1 if n % 50 == 49 else n},{n if n > 90 else ''}" for n in range(100)]
    path = write(tmp_path, "\n".join([f"{HEADER},dwell_s,attempt", *rows]))
    seen: list[float] = []
    request = LoadRequest(paths=(str(path),), new_codes=True)
    report = load_files(sqlite_shop, request, by="ann", at_us=NOW_US,
                        progress=lambda _, share: seen.append(share))
    assert counts(report) == (100, 98, 0, 2)
    assert len(seen) > 5
    assert seen == sorted(seen)
    assert seen[-1] == 1
    kept = read_looks(sqlite_shop.store, as_of_us=NOW_US)
    assert kept["piece_id"].astype(object).tolist() == [
        f"a{n}" for n in range(100) if n % 50 != 49]
    assert kept["attempt"].tolist() == [n if n > 90 else 1 for n in range(100) if n % 50 != 49]
    found = read_findings(sqlite_shop.store, as_of_us=NOW_US)
    assert len(found) == 2 * len([n for n in range(0, 100, 7) if n % 50 != 49])
    loads = [what for what in read_audit(sqlite_shop.store)["what"] if what == "load inspections"]
    assert len(loads) == 1
    lines = [row[0] for row in csv.reader((tmp_path / "file.rejects.csv").open(newline=""))]
    assert lines == ["line", "51", "101"]


def test_when_the_tallies_cannot_be_written_nothing_of_the_file_is_kept(
    sqlite_shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise OSError("stopped here")

    monkeypatch.setattr(inspections, "update_tallies", broken)
    with pytest.raises(OSError, match="stopped here"):
        load(sqlite_shop, write(tmp_path, f"{HEADER}\n{ROW}\n"), new_codes=True)
    assert looks(sqlite_shop) == []
    assert known_codes(sqlite_shop.store)["presses"] == frozenset()
    assert read_audit(sqlite_shop.store)["what"].tolist() == []


def test_every_kind_of_file_is_kept(shop: Shop, tmp_path: Path) -> None:
    files = {
        "instruments": "instrument,uncertainty_f,k,calibrated_at,due_at,sensor,contact_f\n"
                       "G1,1.8,2,2026-01-01,2027-01-01,Type_K_Special,1.8\n",
        "placements": "location,reference,dx_tolerance_in\nback,collar seam,0.5\n",
        "recipes": "fabric,transfer,version,temperature_f,dwell_s,pressure_bar,peel\n"
                   "tee,film,2,320,12,3,warm\n",
        "jobs": "job,fabric,transfer,location,ordered\nJ1,tee,film,back,100\n",
        "platen_readings": "survey_id,measured_at,press,platen,setpoint_f,row,col,reading_f\n"
                           "S1,2026-03-01T10:00,P1,upper,320,1,1,311\n",
        "machine_checks": "measured_at,press,quantity,set_value,measured_value\n"
                          "2026-03-01T10:00,P1,pressure_bar,3,2.9\n",
    }
    paths = [write(tmp_path, text, name) for name, text in LISTS.items()]
    paths += [write(tmp_path, text, f"{kind}.csv") for kind, text in files.items()]
    report = load(shop, *reversed(paths))
    assert report.exit_code == 0
    kinds = [*files][::-1] + [name[:-4] for name in LISTS][::-1]
    assert [file.kind for file in report.files] == kinds
    row = {kind: read_records(shop.store, kind).iloc[0] for kind in files}
    assert row["instruments"]["uncertainty_c"] == pytest.approx(1)
    assert (row["instruments"]["sensor"], row["instruments"]["contact_c"]) == (
        "type_k_special", pytest.approx(1))
    assert row["placements"]["dx_tolerance_mm"] == pytest.approx(12.7)
    assert (row["recipes"]["temperature_c"], row["recipes"]["pressure_kpa"]) == (
        pytest.approx(160), pytest.approx(300))
    assert row["jobs"]["ordered"] == 100
    assert row["platen_readings"]["reading_c"] == pytest.approx(155)
    assert row["machine_checks"]["measured_value"] == pytest.approx(290)
    assert [counts(load(shop, path))[2] for path in paths] == [2, *[1] * (len(paths) - 1)]


@pytest.mark.parametrize("dry_run", [False, True])
def test_an_instrument_out_of_date_is_said_as_its_readings_come_in(
    sqlite_shop: Shop, tmp_path: Path, *, dry_run: bool
) -> None:
    listed = write(tmp_path, "instrument,uncertainty_c,due_at\nG1,1,2026-02-01\n", "probes.csv")
    presses = write(tmp_path, "press\nP1\n", "presses.csv")
    checks = write(tmp_path, "measured_at,press,quantity,set_value,measured_value,instrument\n"
                   "2026-01-10T10:00,P1,dwell_s,15,15.2,G1\n"
                   "2026-03-01T10:00,P1,dwell_s,15,15.2,G1\n"
                   "2026-03-01T10:05,P1,dwell_s,15,15.1,G2\n", "checks.csv")
    report = load(sqlite_shop, checks, presses, listed, dry_run=dry_run)
    assert report.exit_code == 0
    late, unknown = report.files[0].warnings
    assert late.startswith("1 row names G1, measured after it was due for calibration on 01 Feb")
    assert unknown.startswith("1 row names G2, which is not on the list of instruments")


def test_a_dry_run_tells_row_by_row_and_keeps_the_rejects_if_asked(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    path = write(tmp_path, f"{HEADER},dwell_s\n{ROW}scorch@top:3*2,12\n"
                           f"{ROW.replace('a1', 'a2')},soon\n")
    strict = load(sqlite_shop, path, dry_run=True, dry_rejects=True, row_report=10).files[0]
    assert strict.unknown_codes and strict.new_codes == () and strict.n_rejected == 2
    assert [(one.line, one.column, one.value) for one in strict.wrong] == [
        (2, "press", "P1"), (2, "fabric", "tee"), (2, "transfer", "film"), (3, "press", "P1"),
        (3, "fabric", "tee"), (3, "transfer", "film"), (3, "dwell_s", "soon")]
    assert Path(strict.rejects_file or "").read_text(encoding="utf-8").count("\n") == 3
    open_ended = load(sqlite_shop, path, dry_run=True, new_codes=True).files[0]
    assert dict(open_ended.new_codes) == {
        "presses": ("P1",), "fabrics": ("tee",), "transfers": ("film",)}
    assert open_ended.wrong == () and not open_ended.unknown_codes
    assert looks(sqlite_shop) == []


def test_recipes_hotter_than_the_fabric_are_loaded_with_a_warning(
    sqlite_shop: Shop, tmp_path: Path
) -> None:
    files = [write(tmp_path, "fabric,heat_limit_c\ntee,150\nrib,180\n", "fabrics.csv"),
             write(tmp_path, "transfer\nfilm\n", "transfers.csv"),
             write(tmp_path, "fabric,transfer,temperature_c\ntee,film,165\nrib,film,165\n",
                   "recipes.csv")]
    dry = load(sqlite_shop, *files, dry_run=True)
    report = load(sqlite_shop, *files)
    for one in (dry, report):
        (said,) = next(file.warnings for file in one.files if file.kind == "recipes")
        assert said.startswith("recipe of tee with film: 165 °C is above the most heat tee takes")
        assert one.exit_code == 0
