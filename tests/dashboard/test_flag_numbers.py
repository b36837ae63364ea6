"""A number of a flag leads to looks: each level that detection names is one that records know."""

from __future__ import annotations

import pytest

from dashboard.pages.records.asking import asked_of
from dashboard.view import RecordsView, read_view, records_address
from qc.desk.looks import looks_counted
from qc.domain.counting import count_once
from qc.domain.flags import FACTORS, record_levels
from qc.monitor.evidence import gather
from qc.monitor.findings import public_name
from qc.store import Store
from qc.store.inspections import read_findings, read_looks
from tests.qc.store.made import LOADED, T0, add, findings_of, look


@pytest.fixture
def worked(store: Store) -> Store:
    """Two presses with stations of the same names, one name with a stroke in it."""
    presses = ("P1", "P2", "P 4/5")
    add(store, [look(f"{press}{station}{n}", press=press, station=station, size="M",
                     pressed_at=T0 + n * 120_000_000, inspected_at=T0 + n * 120_000_000 + 60)
                for press in presses for station in ("A", "B") for n in range(4)],
        findings_of((0, "scorch", "top", 2.0, 1)), new_codes={
            "presses": presses, "fabrics": ["fleece"], "transfers": ["film"]})
    return store


def test_every_level_that_detection_names_is_found_in_the_records(worked: Store) -> None:
    counted = count_once(read_looks(worked, as_of_us=LOADED), read_findings(worked,
                                                                            as_of_us=LOADED))
    evidence = gather(counted)
    named = {(public_name(name), level) for name, levels in evidence.factors.items()
             for level in levels.levels if name != "shop"}
    assert {name for name, _ in named} >= {"station", "time_since_start", "press"}
    shop = type("Kept", (), {"store": worked})()  # all that counting looks asks of a shop
    for name, level in sorted(named):
        there = records_address([(name, level)]).removeprefix("/records")
        found = looks_counted(shop, asked_of(read_view(RecordsView, there)), as_of_us=LOADED)
        assert found.n_looks > 0, (name, level)


@pytest.mark.parametrize("name, level, said", [
    ("station", "P4/P4B", (("press", "P4"), ("station", "P4B"))),
    ("station", "P 4/5/A", (("press", "P 4/5"), ("station", "A"))),
    ("station", None, (("station", None),)), ("station", "P4B", (("station", "P4B"),)),
    ("time_since_start", "P3, first 15 min", (("press", "P3"),)),
    ("time_since_start", "first 15 min", ()),
    ("transfer_lot", "L/7, late", (("transfer_lot", "L/7, late"),)),
])
def test_a_composed_level_is_taken_apart(
    name: str, level: str | None, said: tuple[tuple[str, str | None], ...]
) -> None:
    assert record_levels(name, level) == said


@pytest.mark.parametrize("name", [one for one in FACTORS if one not in ("shop",
                                                                      "time_since_start")])
def test_each_factor_of_a_flag_narrows_the_records(name: str) -> None:
    assert read_view(RecordsView, records_address([(name, "a/b")]).removeprefix(
        "/records")) != RecordsView()
