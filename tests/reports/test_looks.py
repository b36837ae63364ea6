"""Lists of looks taken out: loaded again they change nothing, and no spreadsheet runs them."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import select

import reports.looks as looks_file
from qc.desk.loading import LoadReport, LoadRequest, load_files
from qc.desk.looks import LooksAsked, all_looks
from qc.desk.shop import Shop, change_setting, open_shop, reread
from qc.domain.records import INSPECTIONS
from qc.errors import InputError
from qc.intake.rows import unguarded
from qc.store import Store
from qc.store.inspections import read_findings, read_looks
from qc.store.schema import inspections
from reports.looks import csv_parts, write_xlsx
from tests.qc.store.made import LOADED, add, findings_of, look

NOW = LOADED + 10**13
STRANGE = ("=1+1", "-12", "+3", "@x", "'=1+1", "''=1+1", "'quoted'", "it's", 'a "b", c; d', "é\nü",
           "<b>x</b>", "'")


HEAD = ("piece_id,attempt,inspected_at,pressed_at,stage,press,fabric,transfer,location,size,"
        "temperature_f,dwell_s,pressure_psi,dx_in,rotation_deg,defects,pieces,defective\n")


def sheet(n: int, rng: np.random.Generator) -> str:
    """A sheet as a shop writes it, in its own units: single pieces, blocks, looks again."""
    rows = []
    for at in range(n):
        block = at % 7 == 0
        told = rng.choice(["", "scorch@top:6", "bubble;wrinkle@left", "scorch@:2.5", "zap"])
        if block and told:
            told = "scorch*2;bubble"
        rows.append(
            f"p{at // 2},{1 + at % 2},2026-03-29T0{3 + at % 6}:1{at % 9}:0{at % 7}.25,,"
            f"{rng.choice(['final', 'wash', ''])},P1,rib,film,{rng.choice(['chest', ''])},M,"
            f"{rng.integers(300, 330)}.5,{rng.normal(12, 1):.3f},{rng.integers(30, 60)},"
            f"{rng.normal(0, 0.1):.4f},{rng.normal(0, 2):.2f},{told},"
            f"{20 if block else ''},{2 if block and told else ''}\n")
    return HEAD + "".join(rows)


@pytest.fixture
def shop(store: Store, tmp_path: Path) -> Shop:
    """Looks of every sort from a sheet, and some with texts that a spreadsheet would run."""
    change_setting(Shop(store, {}), name="timezone", value="Europe/Lisbon", by="ann", at_us=LOADED)
    made = reread(Shop(store, {}))
    (tmp_path / "sheet.csv").write_text(sheet(400, np.random.default_rng(8)), encoding="utf-8")
    report = loaded(made, tmp_path / "sheet.csv", new_codes=True).files[0]
    assert (report.n_loaded, report.error) == (400, None)
    add(store, [look(f"s{at}", note=text, job=text, dx_mm=-1.25, station=None)
                for at, text in enumerate(STRANGE)], findings_of(
                    (0, "scorch", None, 4.5, 1), (1, "bubble", "top", None, 3)))
    return made


def taken(shop: Shop, folder: Path, form: str) -> Path:
    path = folder / f"looks.{form}"
    looks = all_looks(shop, LooksAsked(), as_of_us=NOW)
    if form == "xlsx":
        write_xlsx(path, looks, shop.zone)
    else:
        path.write_bytes(b"".join(csv_parts(looks, shop.zone)))
    return path


def loaded(shop: Shop, path: Path, **more: object) -> LoadReport:
    request = LoadRequest(paths=(str(path),), **more)  # type: ignore[arg-type]
    return load_files(shop, request, by="bo", at_us=NOW)


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_a_list_taken_out_is_there_already(shop: Shop, tmp_path: Path, form: str) -> None:
    report = loaded(shop, taken(shop, tmp_path, form)).files[0]
    n = len(read_looks(shop.store, as_of_us=NOW))
    assert (report.error, report.wrong, report.n_rejected) == (None, (), 0)
    assert (report.n_read, report.n_loaded, report.n_already_there) == (n, 0, n) and n > 400


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_another_store_becomes_the_same(shop: Shop, tmp_path: Path, form: str) -> None:
    other = open_shop(str(tmp_path / "other.db"), create=True)
    path = taken(shop, tmp_path, form)
    assert loaded(other, path, new_codes=True).files[0].n_rejected == 0
    told = []
    for each in (shop, other):  # the fingerprint of a look is of all its fields and findings
        with each.store.reading() as connection:
            told.append(sorted(connection.execute(select(inspections.c.content)).scalars()))
        told[-1].append(len(read_findings(each.store, as_of_us=NOW)))
    assert told[0] == told[1]
    other.store.close()


def test_no_cell_is_a_formula(shop: Shop, tmp_path: Path) -> None:
    content = taken(shop, tmp_path, "csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(content, newline="")))
    texts = [field.name for field in INSPECTIONS.fields if field.is_text]
    cells = {row[name] for row in rows for name in [*texts, "defects"]}
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))]
    assert {row["dx_mm"] for row in rows if row["piece_id"] == "s0"} == {"-1.25"}
    assert content.splitlines()[0].startswith("piece_id,attempt,inspected_at")


def test_cells_of_a_workbook_are_texts_and_numbers(shop: Shop, tmp_path: Path) -> None:
    import zipfile

    with zipfile.ZipFile(taken(shop, tmp_path, "xlsx")) as book:
        sheet = book.read("xl/worksheets/sheet1.xml").decode()
    assert "<f>" not in sheet and "=1+1" in sheet


def test_a_workbook_too_large_is_refused(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(looks_file, "MOST_IN_XLSX", 10)
    with pytest.raises(InputError, match="narrow the list, or take CSV"):
        taken(shop, tmp_path, "xlsx")


@given(st.text(alphabet="'=+-@a1 ", max_size=6))
def test_reading_takes_away_what_guarding_put_there(text: str) -> None:
    guarded = looks_file._guarded(text)
    assert not guarded.startswith(("=", "+", "-", "@"))
    assert unguarded(guarded) == text or guarded == text == unguarded(text)
