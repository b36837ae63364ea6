"""Files as shops keep them: some of a simulated shop's looks in the forms people really use.

Each example is another week of the same shop, so that all of them load into one store.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd

from demo_data.files import LISTS, write_files
from demo_data.shop import SimulatedShop
from qc.units import from_stored

ROWS = 300
FIRST_LOOKS = "attempt == 1 and stage == 'final'"


def write_shop_files(shop: SimulatedShop, folder: Path, *, rows: int = ROWS) -> dict[str, Path]:
    """Write the examples and, in ``folder``/plain, everything as plain CSV.

    Returns
    -------
    Where each example went, by what it shows: spreadsheet, semicolon, us_units, wide, hourly,
    us_survey, and the plain lists that name their codes.
    """
    plain = write_files(shop, folder / "plain")
    looks = shop.frames["inspections"].query(FIRST_LOOKS)
    written = {kind: plain[kind] for kind in LISTS}
    for week, (name, write) in enumerate(WRITERS.items()):
        some = _week(looks, week)
        if name != "hourly":  # a week of counts is a short file anyway
            some = some.head(rows)
        written[name] = write(some.reset_index(drop=True), folder)
    written["us_survey"] = _us_survey(shop.frames["platen_readings"], folder)
    return written


def _week(looks: pd.DataFrame, week: int) -> pd.DataFrame:
    """Looks of one week, counted from the first one."""
    day = pd.to_datetime(looks["inspected_at"].str.slice(0, 10))
    since = (day - day.iloc[0]).dt.days
    return looks[since // 7 == week]


def _spreadsheet(looks: pd.DataFrame, folder: Path) -> Path:
    """An XLSX workbook with real Excel dates in local time, blanks where nothing was written."""
    import xlsxwriter

    path = folder / "checks_this_week.xlsx"
    columns = ["piece_id", "inspected_at", "press", "fabric", "transfer", "location", "size",
               "job", "transfer_lot", "operator", "temperature_c", "dwell_s", "defects",
               "disposition"]
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Checks")
        sheet.write_row(0, 0, columns, book.add_format({"bold": True}))
        moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm:ss"})
        for at, row in enumerate(looks[columns].itertuples(index=False), start=1):
            for column, value in enumerate(row):
                if columns[column] == "inspected_at":
                    sheet.write_datetime(at, column, datetime.fromisoformat(value[:19]), moment)
                elif not pd.isna(value):
                    sheet.write(at, column, value)
    return path


def _semicolon(looks: pd.DataFrame, folder: Path) -> Path:
    """A semicolon CSV with a byte-order mark, decimal commas and local times."""
    path = folder / "checks_semicolon.csv"
    frame = _local(looks).drop(columns=["pressed_at", "stage", "attempt", "cover"])
    frame["temperature_c"] += 0.5  # a display that shows halves, so that decimal commas occur
    frame.to_csv(path, index=False, sep=";", decimal=",", encoding="utf-8-sig")
    return path


def _us_units(looks: pd.DataFrame, folder: Path) -> Path:
    """degF, inches and psi, with the display's own rounding."""
    path = folder / "line_log_us.csv"
    frame = _local(looks)
    for name, quantity, suffix, places in (
        ("temperature_c", "temperature", "f", 0),
        ("temperature_lower_c", "temperature", "f", 0),
        ("pressure_kpa", "gauge_pressure", "psi", 1),
        ("dx_mm", "length", "in", 3), ("dy_mm", "length", "in", 3),
    ):
        base = name.rsplit("_", 1)[0]
        values = frame.pop(name).to_numpy(dtype=float)
        frame[f"{base}_{suffix}"] = np.round(from_stored(values, quantity, suffix), places)
    frame.to_csv(path, index=False)
    return path


def _wide(looks: pd.DataFrame, folder: Path) -> Path:
    """One column for each kind of defect, with counts, blank for none."""
    path = folder / "tally_by_defect.csv"
    found = _entries(looks)
    counts = pd.crosstab(found["row"], found["kind"], values=found["places"], aggfunc="sum")
    counts = counts.reindex(looks.index)
    frame = pd.concat([_local(looks).drop(columns="defects"), counts.astype("Int64")], axis=1)
    frame.to_csv(path, index=False)
    return path


def _hourly(looks: pd.DataFrame, folder: Path) -> Path:
    """Counts by the hour: one row for each job at a press in each clock hour."""
    path = folder / "hourly_counts.csv"
    hour = looks["pressed_at"].fillna(looks["inspected_at"]).str.slice(0, 13)
    keys = ["press", "job", "fabric", "transfer", "location", "hour"]
    block = looks.assign(hour=hour, bad=looks["defects"].notna()).groupby(keys, dropna=False)
    frame = block.agg(pieces=("bad", "size"), defective=("bad", "sum")).reset_index()
    number = block.ngroup()
    found = _entries(looks)
    found["block"] = number.loc[found["row"]].to_numpy()
    pairs = found.drop_duplicates(["row", "kind"]).groupby(["block", "kind"]).size()
    said = {
        at: ";".join(f"{kind}*{n}" for kind, n in of.droplevel(0).items())
        for at, of in pairs.groupby(level=0)
    }
    frame["defects"] = [said.get(at, "") for at in range(len(frame))]
    frame["piece_id"] = [f"{p}-{j}-{h[5:].replace('T', '-')}" for p, j, h in zip(
        frame["press"], frame["job"], frame["hour"], strict=True)]
    frame["pressed_at"] = frame["hour"] + ":00"
    frame["inspected_at"] = frame.pop("hour") + ":59"
    frame.to_csv(path, index=False)
    return path


WRITERS: dict[str, Callable[[pd.DataFrame, Path], Path]] = {
    "spreadsheet": _spreadsheet, "semicolon": _semicolon, "us_units": _us_units, "wide": _wide,
    "hourly": _hourly,
}


def _us_survey(readings: pd.DataFrame, folder: Path) -> Path:
    """A platen survey in degF, local time."""
    path = folder / "platen_survey_us.csv"
    frame = readings.head(ROWS).assign(
        measured_at=readings["measured_at"].str.slice(0, 19),
        survey_id="US-" + readings["survey_id"],
    )
    for name in ("setpoint_c", "reading_c"):
        values = frame.pop(name).to_numpy(dtype=float)
        frame[f"{name[:-2]}_f"] = np.round(from_stored(values, "temperature", "f"), 1)
    frame.to_csv(path, index=False)
    return path


def _local(looks: pd.DataFrame) -> pd.DataFrame:
    """Times as on the wall clock, without offset."""
    return looks.assign(
        inspected_at=looks["inspected_at"].str.slice(0, 19),
        pressed_at=looks["pressed_at"].str.slice(0, 19),
    )


def _entries(looks: pd.DataFrame) -> pd.DataFrame:
    """One row for each entry of ``defects``: the look's index, kind, number of places."""
    entry = looks["defects"].dropna().str.split(";").explode()
    parts = entry.str.extract(r"^(?P<kind>\w+)[^*]*(?:\*(?P<places>\d+))?$")
    return pd.DataFrame({
        "row": entry.index, "kind": parts["kind"].to_numpy(),
        "places": parts["places"].fillna("1").astype(int).to_numpy(),
    })
