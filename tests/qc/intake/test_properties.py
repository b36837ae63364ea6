"""Whatever a file holds, it is read or refused in words; and what is written is read back."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.domain.kinds import ZONES, defect_kinds
from qc.domain.records import DISPOSITIONS, INSPECTIONS, RECORD_KINDS, STAGES
from qc.errors import InputError
from qc.intake import read_table, recognise
from tests.qc.intake.files import HEADER, parsed, write

QUIET = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("any")


def _reads_or_refuses(path: Path) -> None:
    try:
        found = parsed(path)
    except InputError as refused:
        assert str(refused)
        assert "\n" not in str(refused).replace("\\n", "")
        return
    assert found.n_read == len(found.frame) + len(found.rejects)
    assert all(reason for _, reason in found.rejects.values())


@given(content=st.binary(max_size=200), ending=st.sampled_from(["csv", "xlsx"]))
@QUIET
def test_any_bytes(folder: Path, content: bytes, ending: str) -> None:
    _reads_or_refuses(write(folder, content, f"bytes.{ending}"))


@given(content=st.text(st.sampled_from(list(',;\t"\n\r\'a1.-@*: é')), max_size=120))
@QUIET
def test_any_rows_under_a_good_header(folder: Path, content: str) -> None:
    _reads_or_refuses(write(folder, f"{HEADER},pieces,dwell_s\n{content}"))


@given(kind=st.sampled_from(list(RECORD_KINDS)), data=st.data())
@QUIET
def test_any_cells_in_any_kind_of_file(folder: Path, kind: str, data: st.DataObject) -> None:
    names = [field.name for field in RECORD_KINDS[kind].fields]
    names += ["defects"] if kind == INSPECTIONS.name else []
    cell = st.one_of(st.sampled_from(["", "1", "-1", "1e9", "P1", "tee", "2026-03-01T10:00", "nan",
                                      "yes", "scorch*2", "pass", "pressure_psi", "9" * 30]),
                     st.text(st.characters(codec="utf-8", exclude_characters='\x00",\r\n'),
                             max_size=6))
    rows = data.draw(st.lists(st.lists(cell, min_size=len(names), max_size=len(names)),
                              min_size=1, max_size=4))
    text = "\n".join(",".join(row) for row in [names, *rows])
    _reads_or_refuses(write(folder, text, "cells.csv"))


@given(columns=st.lists(st.text(max_size=12), max_size=6))
@QUIET
def test_any_header(columns: list[str]) -> None:
    with contextlib.suppress(InputError):
        assert recognise(columns) in RECORD_KINDS


FINDING = st.tuples(st.sampled_from(list(defect_kinds())), st.none() | st.sampled_from(ZONES),
                    st.none() | st.integers(0, 999), st.integers(1, 9))
FIELDS = ("attempt", "stage", "temperature_c", "rotation_deg", "disposition", "note")
LOOK = st.fixed_dictionaries({
    "attempt": st.integers(1, 99), "stage": st.sampled_from(STAGES),
    "temperature_c": st.integers(0, 4000).map(lambda n: n / 10),
    "rotation_deg": st.integers(-1800, 1800).map(lambda n: n / 10),
    "disposition": st.sampled_from(DISPOSITIONS),
    "note": st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Zs", "Zl", "Zp"]),
                    max_size=10),
    "findings": st.lists(FINDING, max_size=3),
})


def _entry(kind: str, zone: str | None, extent: int | None, n: int) -> str:
    place = f"@{zone}" + (f":{extent}" if extent is not None else "") if zone else ""
    return f"{kind}{place}" + (f"*{n}" if n > 1 else "")


@given(looks=st.lists(LOOK, min_size=1, max_size=6), separator=st.sampled_from([",", ";", "\t"]))
@QUIET
def test_valid_rows_are_read_back_as_they_were(
    folder: Path, looks: list[dict], separator: str
) -> None:
    names = [*HEADER.split(",")[:-1], *FIELDS, "defects"]
    rows = [names]
    for at, look in enumerate(looks):
        defects = ";".join(_entry(*finding) for finding in look["findings"])
        values = [f"a{at}", "2026-03-01T10:00Z", "P1", "tee", "film",
                  *[look[n] for n in FIELDS], defects]
        rows.append([f'"{str(value).replace(chr(34), chr(34) * 2)}"' for value in values])
    path = write(folder, "\n".join(separator.join(row) for row in rows), "valid.csv")
    found = parsed(path)
    assert found.rejects == {}
    for at, look in enumerate(looks):
        row = found.frame.iloc[at]
        for name in ("attempt", "stage", "temperature_c", "rotation_deg", "disposition"):
            assert row[name] == look[name]
        note = None if "note" not in found.frame or row["note"] != row["note"] else row["note"]
        assert (note or "") == look["note"].strip()
        mine = found.findings[found.findings["row"] == at]
        read = [(kind, zone if isinstance(zone, str) else None,
                 None if extent != extent else extent, n)
                for kind, zone, extent, n in mine[["kind", "zone", "extent_mm", "n"]].to_numpy()]
        assert read == [(kind, zone, extent if zone else None, n)
                        for kind, zone, extent, n in look["findings"]]
    assert read_table(path).columns == tuple(names)
