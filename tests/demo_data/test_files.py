"""Files of a simulated shop: what is in them, and that every one of them loads."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from demo_data import (
    DEMO_SEED,
    SimulatedShop,
    demo_spec,
    demo_truth,
    simulate,
    write_files,
    write_shop_files,
)
from demo_data.files import LISTS
from qc.desk.loading import LoadReport, LoadRequest, load_files, shop_to_load
from qc.domain.records import RECORD_KINDS
from qc.store.inspections import read_findings, read_looks
from qc.store.records import read_records

KEPT = ("spreadsheet", "semicolon", "us_units", "wide", "hourly", "us_survey")


@pytest.fixture(scope="module")
def shop() -> SimulatedShop:
    return simulate(demo_spec(), DEMO_SEED)


@pytest.fixture(scope="module")
def kept(shop: SimulatedShop, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return write_shop_files(shop, tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def loaded(
    shop: SimulatedShop, kept: dict[str, Path], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, LoadReport]:
    """A store with the lists and every example file in it, and the report of the load."""
    place = tmp_path_factory.mktemp("store") / "shop.db"
    return place, load(place, [kept[name] for name in (*LISTS, *KEPT)], shop)


def load(place: Path, files: list[Path], shop: SimulatedShop) -> LoadReport:
    request = LoadRequest(paths=tuple(map(str, files)))
    with shop_to_load(str(place), timezone=shop.zone, dry_run=False, by="test",
                      at_us=shop.end_us) as opened:
        return load_files(opened, request, by="test", at_us=shop.end_us)


def test_every_file_as_shops_keep_it_loads_whole(
    loaded: tuple[Path, LoadReport], kept: dict[str, Path]
) -> None:
    _, report = loaded
    assert report.exit_code == 0
    by_file = {Path(file.file).name: file for file in report.files}
    for name in KEPT:
        file = by_file[kept[name].name]
        assert file.error is None
        assert file.n_rejected == 0
        assert file.n_loaded == file.n_read > 20
        assert file.kind == ("platen_readings" if name == "us_survey" else "inspections")
        # a sheet that says nothing of what was done with faulty pieces hears how they are taken
        assert [one for one in file.warnings if "taken as on hold" not in one] == []
    assert by_file[kept["spreadsheet"].name].warnings == ()


def test_loading_them_again_changes_nothing(
    loaded: tuple[Path, LoadReport], kept: dict[str, Path], shop: SimulatedShop
) -> None:
    place, _ = loaded
    again = load(place, [kept[name] for name in KEPT], shop)
    assert again.exit_code == 0
    assert all(file.n_loaded == 0 for file in again.files)
    assert all(file.n_already_there == file.n_read for file in again.files)


@pytest.fixture(scope="module")
def stored(loaded: tuple[Path, LoadReport], shop: SimulatedShop) -> pd.DataFrame:
    """Looks in the store, by piece id, with their kinds of defect as text."""
    with shop_to_load(str(loaded[0]), timezone=None, dry_run=False, by="test",
                      at_us=shop.end_us) as opened:
        looks = read_looks(opened.store, as_of_us=shop.end_us)
        found = read_findings(opened.store, as_of_us=shop.end_us)
    kinds = found["kind"].astype(str).groupby(found["look"]).apply(
        lambda codes: ";".join(sorted(codes)))
    return looks.assign(kinds=kinds.reindex(looks.index).fillna("")).set_index("piece_id")


def truth_of(shop: SimulatedShop, pieces: pd.Index) -> pd.DataFrame:
    rows = shop.frames["inspections"].query("attempt == 1 and stage == 'final'")
    return rows.set_index("piece_id").loc[pieces]


def us_of(texts: pd.Series) -> pd.Series:
    moments = pd.to_datetime(texts, utc=True).dt.tz_localize(None)
    return moments.astype("datetime64[us]").astype("int64")


@pytest.mark.parametrize("name", ["semicolon", "us_units", "wide"])
def test_stored_values_are_those_of_the_shop_whatever_the_form(
    stored: pd.DataFrame, kept: dict[str, Path], shop: SimulatedShop, name: str
) -> None:
    pieces = pd.read_csv(kept[name], sep=None, engine="python", encoding="utf-8-sig")["piece_id"]
    truth, mine = truth_of(shop, pd.Index(pieces)), stored.loc[pieces]
    assert (mine["inspected_at"].to_numpy() == us_of(truth["inspected_at"]).to_numpy()).all()
    shift = 0.5 if name == "semicolon" else 0.0
    gap = (mine["temperature_c"].astype(float) - shift - truth["temperature_c"]).abs()
    assert gap.max() < 0.3
    assert (mine["dx_mm"].astype(float) - truth["dx_mm"]).abs().max() < 0.05
    assert (mine["pressure_kpa"].astype(float) - truth["pressure_kpa"]).abs().max() < 0.5
    wanted = truth["defects"].fillna("").str.replace(r"[@:*][^;]*", "", regex=True)
    wanted = wanted.apply(lambda text: ";".join(sorted(text.split(";"))))
    assert mine["kinds"].tolist() == wanted.tolist()


def test_hourly_counts_hold_the_pieces_and_defects_of_their_hour(
    stored: pd.DataFrame, kept: dict[str, Path], shop: SimulatedShop
) -> None:
    blocks = pd.read_csv(kept["hourly"])
    mine = stored.loc[blocks["piece_id"]]
    assert mine["pieces"].sum() == blocks["pieces"].sum() > 500
    rows = shop.frames["inspections"].query("attempt == 1 and stage == 'final'")
    rows = rows[rows["job"].isin(blocks["job"])]
    assert blocks["pieces"].sum() == pytest.approx(len(rows), rel=0.05)
    assert mine["defective"].sum() == pytest.approx(rows["defects"].notna().sum(), abs=8)


def test_the_spreadsheet_has_real_dates(kept: dict[str, Path], stored: pd.DataFrame) -> None:
    sheet = CalamineWorkbook.from_path(kept["spreadsheet"]).get_sheet_by_name("Checks")
    rows = sheet.to_python()
    column = rows[0].index("inspected_at")
    assert all(isinstance(row[column], datetime) for row in rows[1:])
    assert {row[0] for row in rows[1:]} <= set(stored.index)


def test_the_semicolon_file_has_a_byte_order_mark_and_decimal_commas(
    kept: dict[str, Path]
) -> None:
    data = kept["semicolon"].read_bytes()
    assert data.startswith(b"\xef\xbb\xbf")
    assert b";151,5;" in data or b";152,5;" in data or b";155,5;" in data


def test_degf_surveys_are_stored_in_degc(
    loaded: tuple[Path, LoadReport], shop: SimulatedShop
) -> None:
    with shop_to_load(str(loaded[0]), timezone=None, dry_run=False, by="test",
                      at_us=shop.end_us) as opened:
        mine = read_records(opened.store, "platen_readings")
    truth = shop.frames["platen_readings"].head(len(mine))
    keys = ["survey_id", "row", "col"]
    both = mine.assign(survey_id=mine["survey_id"].astype(str).str.removeprefix("US-")).merge(
        truth, on=keys, suffixes=("", "_true"))
    assert len(both) == len(mine) == 300
    assert (both["reading_c"] - both["reading_c_true"]).abs().max() < 0.1


def test_examples_are_small(kept: dict[str, Path]) -> None:
    assert all(kept[name].stat().st_size < 100_000 for name in KEPT)


def test_plain_files_hold_every_kind_and_the_truth(shop: SimulatedShop, tmp_path: Path) -> None:
    written = write_files(shop, tmp_path)
    assert set(written) == set(RECORD_KINDS)
    for kind, path in written.items():
        assert len(pd.read_csv(path)) == len(shop.frames[kind])
    said = json.loads((tmp_path / "truth.json").read_text(encoding="utf-8"))
    assert [one["kind"] for one in said] == [planted.kind for planted in demo_truth()]
    starts = [int(us) for us in us_of(pd.Series([one["start"] for one in said]))]
    assert starts == [planted.start_us for planted in demo_truth()]
