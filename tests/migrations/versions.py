"""Small filled stores of every version there was, as SQL, and how to make the one of today.

Each file of ``stores/`` is named after its version and holds what a store of that version held:
tables, rows, version mark. It is made once, when the version is released, and never changed:

    python -m tests.migrations.versions 0002
"""

from __future__ import annotations

import json
import sqlite3
import sys
import tempfile
from pathlib import Path

import pandas as pd

from qc.domain.flags import FactorShare, Flag
from qc.store import Store, open_store
from qc.store.baselines import freeze_baseline, tell_agreed_change
from qc.store.cases import NewStep, add_step
from qc.store.corrections import correct_inspection
from qc.store.inspections import add_inspections
from qc.store.records import add_records
from qc.store.retiring import RETIRE, take_list_step
from qc.store.service import open_order, take_service_step
from qc.store.settings import change_setting
from qc.store.stream_baselines import freeze_stream
from tests.qc.store.made import CODES, LOADED, T0, findings_of, look

FOLDER = Path(__file__).parent / "stores"
FLAG = Flag(
    id="f1", kind="defect_rate", characteristic="lifted_edge", direction="up", press="P1",
    platen=None, zone=None, signalled_at_us=T0 + 90, changed_at_us=T0 + 60,
    changed_between_us=(T0 + 30, T0 + 80), ended_at_us=None,
    factor=FactorShare(name="press", level="P1", weight=0.9),
    other_factors=(FactorShare(name="shop", level=None, weight=0.1),), before=0.01, after=0.05,
    expected_after=0.012, unit="per piece", pieces_at_risk=4, also=("incomplete_cure",),
    message="Edges lift on press P1.", next_step="Check first: the gauge.", urgency=1.0,
)
FROZEN_STREAM = {"subject": "defects", "of": "scorch", "by": "press", "level": "P1", "step": "day",
                 "platen": ""}


def dumped_versions() -> list[str]:
    """Versions with a filled store on file, oldest first."""
    return sorted(path.stem for path in FOLDER.glob("*.sql"))


def fill(store: Store) -> None:
    """A little of everything a store can hold."""
    looks = pd.DataFrame([
        look("a"), look("a", stage="wash"), look("b", location=None, note="=1+1; é"),
        look("c", press="P2", operator=None), look("hour", pieces=30, defective=2),
    ])
    findings = findings_of((0, "scorch", "top", 2.5, 1), (1, "bubble", None, None, 1),
                           (4, "zap", None, None, 2))
    add_inspections(store, looks, findings, by="ann", at_us=LOADED, source="week 1.csv",
                    new_codes=CODES | {"kinds": ["zap"]})
    identity = {"piece_id": "c", "attempt": 1, "location": "left_chest", "stage": "final"}
    correct_inspection(store, identity=identity, changes={"temperature_c": 151.5},
                       findings=[{"kind": "wrinkle", "zone": "left"}], why="misread", by="bo",
                       at_us=LOADED + 5, seen_version=1)
    _fill_records(store)
    change_setting(store, name="timezone", value="Europe/Lisbon", by="ann", at_us=LOADED + 9)
    freeze_baseline(store, from_us=T0, until_us=LOADED, why="a calm week",
                    evidence={"n_pieces": 34}, by="ann", at_us=LOADED + 11)
    tell_agreed_change(store, changed_us=T0 + 60, why="new film", by="bo", at_us=LOADED + 12)
    shipped = pd.DataFrame([{"job": "J1", "fabric": "rib", "ordered": 30, "shipped_at": T0 + 7200}])
    add_records(store, "jobs", shipped, by="ann", at_us=LOADED + 13, source=None)
    add_step(store, NewStep(flag=FLAG, step="acknowledge", said={}), by="ann", at_us=LOADED + 14)
    add_step(store, NewStep(flag=FLAG, step="note", said={"words": "é; <b>"}), by="bo",
             at_us=LOADED + 15)
    said = {"press": "P1", "platen": "upper", "reason": "person", "words": "cold; é",
            "evidence": [["State of the platen", "In tolerance."]]}
    order = open_order(store, said, by="ann", at_us=LOADED + 16)
    take_service_step(store, order.order_id, "owner", {"name": "Bo"}, by="ann", at_us=LOADED + 17)
    freeze_stream(
        store, stream=FROZEN_STREAM, kind="mix", period_us=(T0, LOADED), why="a calm stretch; é",
        known={"ratio": 1.25, "spread": 1.0, "rates": [["rib", "film", None, 0.02]]},
        evidence={"n_points": 24, "fit": True}, by="ann", at_us=LOADED + 18)
    take_list_step(store, "kinds", "zap", RETIRE, by="bo", at_us=LOADED + 19)


def _fill_records(store: Store) -> None:
    rows = {
        "presses": [{"press": "P1", "name": "by the door", "temperature_tolerance_c": 5.0}],
        "fabrics": [{"fabric": "rib", "surface": "ribbed", "cotton_pct": 95.0}],
        "recipes": [{"fabric": "rib", "transfer": "film", "version": "1", "temperature_c": 155.0}],
        "pull_checks": [{"measured_at": T0, "press": "P1", "station": "A", "place": "near_left",
                         "grip": 1, "method": "paper", "state": "routine"}],
        "placements": [{"location": "back", "dx_tolerance_mm": 6.0, "print_width_mm": 300.0,
                        "print_height_mm": 350.0, "platen_near_mm": -20.0}],
        "instruments": [{"instrument": "probe 2", "uncertainty_c": 1.1, "k": 2.0,
                         "sensor": "pt100_class_a", "contact_c": 0.7, "repeat_c": 0.3}],
        "platen_readings": [{
            "survey_id": "s1", "measured_at": T0, "press": "P1", "platen": "upper", "row": 1,
            "col": 1, "setpoint_c": 160.0, "reading_c": 157.25, "state": "routine"}],
    }
    for at, (kind, given) in enumerate(rows.items()):
        add_records(store, kind, pd.DataFrame(given), by="ann", at_us=LOADED + 6 + at, source=None)


def restore(version: str, path: Path) -> None:
    """Make the SQLite store of an earlier version."""
    with sqlite3.connect(path) as connection:
        connection.executescript((FOLDER / f"{version}.sql").read_text(encoding="utf-8"))
    connection.close()


def rows_of(version: str) -> dict[str, list[dict[str, object]]]:
    """What the store of an earlier version holds, by table, to fill another database with."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "old.db"
        restore(version, path)
        connection = sqlite3.connect(path)
        connection.row_factory = sqlite3.Row
        names = [row[0] for row in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name != 'alembic_version'")]
        rows = {name: [dict(row) for row in connection.execute(f"SELECT * FROM {name}")]
                for name in names}
        connection.close()
    return json.loads(json.dumps(rows))  # plain values only


def write_dump(version: str) -> Path:
    """Write the filled store of the program as it is now; for the day a version is released."""
    target = FOLDER / f"{version}.sql"
    if target.exists():
        raise SystemExit(f"{target} exists; a released version never changes")
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(str(Path(folder) / "shop.db"), create=True)
        fill(store)
        with store.reading() as connection:
            driver = connection.connection.driver_connection
            assert driver is not None
            lines = "\n".join(driver.iterdump())
        store.close()
    target.write_text(lines + "\n", encoding="utf-8")
    return target


if __name__ == "__main__":
    write_dump(sys.argv[1])
