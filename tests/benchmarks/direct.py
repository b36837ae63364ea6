"""From a simulated shop to its flags: without files and database, or through both.

The direct way goes through the same intake as a file (every cell as text, read and checked) and
the same counting, evidence and scan as the store's readers feed; only writing and reading the
store is left out. A test holds the two ways against each other.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from demo_data.files import LISTS, RECORDS
from demo_data.shop import SimulatedShop
from qc.config import setting
from qc.desk.evidence import LOOK_COLUMNS, measurements_from
from qc.desk.flags import current_flags
from qc.desk.loading import LoadRequest, load_files
from qc.desk.shop import change_setting, open_shop
from qc.domain.counting import count_once
from qc.domain.flags import Flag
from qc.domain.kinds import defect_kinds
from qc.domain.records import RECORD_KINDS
from qc.intake import Parsed, RawTable, parse
from qc.monitor.budget import AlarmBudget
from qc.monitor.evidence import gather
from qc.monitor.scan import scan
from qc.presses.signals import calibration_signals

NEEDED = ("presses", "fabrics", "transfers", "instruments", "recipes", "platen_readings",
          "inspections")
"""Records that flags depend on, lists before the rows that name their codes."""


def flags_directly(shop: SimulatedShop) -> tuple[Flag, ...]:
    """The flags as of the shop's end, from frames alone."""
    parsed = parsed_records(shop)
    looks, findings = store_like_looks(parsed["inspections"])
    counted = count_once(looks, findings)
    evidence = gather(counted)
    records = {kind: store_like_records(parsed[kind]) for kind in NEEDED[:-1]}
    signals = calibration_signals(
        records["platen_readings"], records["presses"], records["instruments"],
        as_of_us=shop.end_us, default_uncertainty_c=float(_setting(shop, "probe_uncertainty_c")),
    )
    budget = AlarmBudget(
        false_flags_per_week=float(_setting(shop, "false_flags_per_week")))
    found = scan(
        evidence, measurements_from(records["recipes"], counted, evidence), signals, budget,
        as_of_us=shop.end_us, zone=ZoneInfo(shop.zone),
    )
    ids = {finding.id_text: name for name, finding in found.findings.items()}
    return tuple(replace(flag, part_of=ids.get(found.findings[flag.id].part_of))
                 for flag in found.flags.flags)


def flags_through_files(shop: SimulatedShop) -> tuple[Flag, ...]:
    """The flags as of the shop's end, through files, `qc load`'s door and a store."""
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for kind, frame in shop.frames.items():
            path = Path(folder) / f"{kind}.csv"
            frame.to_csv(path, index=False)
            paths.append(str(path))
        store = open_shop(f"{folder}/shop.db", create=True)
        for name, value in shop.settings.items():
            store = change_setting(store, name=name, value=value, by="bench", at_us=shop.end_us)
        report = load_files(store, LoadRequest(paths=tuple(paths)), by="bench",
                            at_us=shop.end_us)
        if report.exit_code:
            raise RuntimeError(f"the simulated shop's own files did not load: {report}")
        found = current_flags(store, as_of_us=shop.end_us).flags
        store.store.close()
        return found


WAYS: dict[str, Callable[[SimulatedShop], tuple[Flag, ...]]] = {
    "direct": flags_directly, "load": flags_through_files,
}


def parsed_records(shop: SimulatedShop) -> dict[str, Parsed]:
    """The shop's frames through the intake, as if each had been a file."""
    known = {"kinds": frozenset(defect_kinds())} | {
        name: frozenset(shop.frames[name].iloc[:, 0]) for name in LISTS[:3]
    }
    parsed = {
        kind: parse(raw_table(shop.frames[kind]), kind, zone=ZoneInfo(shop.zone), known=known,
                    new_codes=False, now_us=shop.end_us)
        for kind in (*LISTS, *RECORDS) if kind in NEEDED
    }
    for kind, one in parsed.items():
        if one.rejects:
            raise RuntimeError(f"{kind}: {next(iter(one.rejects.values()))}")
    return parsed


def raw_table(frame: pd.DataFrame) -> RawTable:
    """A frame as the text of its CSV file: shortest text of each number, blanks where missing."""
    cells = []
    for name in frame.columns:
        column = frame[name]
        codes, distinct = pd.factorize(column)
        texts = np.array([*(str(value) for value in distinct.tolist()), ""], dtype=object)
        cells.append(texts[codes])
    lines = np.arange(2, len(frame) + 2, dtype=np.int64)
    return RawTable(columns=tuple(frame.columns), cells=tuple(cells), lines=lines, separator=",")


def store_like_looks(parsed: Parsed) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Looks and findings as `read_looks` and `read_findings` give them."""
    number = pd.RangeIndex(1, len(parsed.frame) + 1, name="look")
    looks = parsed.frame.set_index(number).reindex(columns=list(LOOK_COLUMNS))
    findings = parsed.findings.rename(columns={"row": "look"})
    findings["look"] += 1
    return looks, findings.sort_values("look", kind="stable").reset_index(drop=True)


def store_like_records(parsed: Parsed) -> pd.DataFrame:
    """Records of a kind as `read_records` gives them: all fields, lists in order of identity."""
    kind = RECORD_KINDS[parsed.kind]
    number = pd.RangeIndex(1, len(parsed.frame) + 1, name="number")
    frame = parsed.frame.set_index(number).reindex(columns=[field.name for field in kind.fields])
    if not kind.versioned:
        return frame
    identity = frame[list(kind.identity)].astype(str)
    return frame.loc[identity.sort_values(list(kind.identity), kind="stable").index]


def _setting(shop: SimulatedShop, name: str) -> str:
    return shop.settings.get(name, setting(name).default)
