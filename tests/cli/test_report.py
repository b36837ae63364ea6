"""`qc report` as a shell sees it."""

from __future__ import annotations

import csv
from pathlib import Path

import pandas as pd
import pytest

from qc.desk.shop import change_setting, open_shop
from qc.domain.instants import DAY_US
from qc.store import open_store
from qc.store.records import add_records
from reports.writing import FORMS
from tests.cli.running import Shell
from tests.dashboard.small_shop import END_US
from tests.qc.desk.case_shop import case_shop
from tests.qc.presses.made import T0, instruments, presses, readings, survey

AS_OF = "2026-03-01T12:00Z"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    made = tmp_path / "shop.db"
    opened = open_store(str(made), create=True)
    given = {"at_us": T0 + 200 * DAY_US, "source": "hand"}
    add_records(opened, "presses", presses("P1", "P2"), by="ann", **given)
    add_records(opened, "instruments", instruments(uncertainty_c=1.5, k=3.0), by="ann", **given)
    rows = [survey(7 * i, -0.9 * i, press="P1") for i in range(8)]
    add_records(opened, "platen_readings", readings(*rows), by="Rui", **given)
    opened.close()
    return made


def test_the_record_says_instrument_decision_risk_and_who(
    shell: Shell, place: Path, tmp_path: Path
) -> None:
    out = tmp_path / "p1.csv"
    done = shell.run("report", "press", "P1", "--store", place, "--out", out, "--as-of", AS_OF)
    assert (done.code, done.out) == (0, "")
    assert "record of press P1" in done.err
    rows = list(csv.DictReader(out.read_text(encoding="utf-8-sig").splitlines()))
    assert len(rows) == 8
    assert all(row["decision"].startswith("mean in tolerance (risk ") for row in rows[:2])
    assert rows[-1]["decision"].startswith(("mean out of tolerance (risk 9",
                                            "mean out of tolerance (risk over 99"))
    assert {(row["instrument"], row["entered_by"], row["uncertainty_c"]) for row in rows} == {
        ("K1", "Rui", "1.0")}  # 1.5 at k = 3 is 1.0 at k = 2


def test_the_record_of_a_shop_that_reads_degf(
    shell: Shell, place: Path, tmp_path: Path
) -> None:
    shop = change_setting(open_shop(str(place)), name="temperature_unit", value="f", by="ann",
                          at_us=T0)
    shop.store.close()
    out = tmp_path / "p1"
    for form in (".csv", ".html"):
        shell.run("report", "press", "P1", "--store", place, "--out", f"{out}{form}",
                  "--as-of", AS_OF)
    rows = list(csv.DictReader((tmp_path / "p1.csv").read_text("utf-8-sig").splitlines()))
    assert {(row["uncertainty_f"], row["setpoint_f"]) for row in rows} == {
        ("1.8", "329.0")}  # 165 degC
    page = (tmp_path / "p1.html").read_text("utf-8")
    cautious = page.replace("150 °C (300 °F)", "")  # the caution says both
    assert "Temperatures in °F." in page and "°C" not in cautious


@pytest.mark.parametrize("form", sorted(FORMS))
def test_every_form_gives_the_same_bytes_again(
    shell: Shell, place: Path, tmp_path: Path, form: str
) -> None:
    made = []
    for name in ("a", "b"):
        out = tmp_path / f"{name}{form}"
        shell.run("report", "press", "P1", "--store", place, "--out", out, "--as-of", AS_OF)
        made.append(out.read_bytes())
    assert made[0] == made[1]
    assert len(made[0]) > 500


def test_the_period_may_begin_later(shell: Shell, place: Path, tmp_path: Path) -> None:
    out = tmp_path / "p1.csv"
    shell.run("report", "press", "P1", "--store", place, "--out", out, "--as-of", AS_OF,
              "--since", "2026-02-01T00:00Z")
    rows = list(csv.DictReader(out.read_text(encoding="utf-8-sig").splitlines()))
    assert 0 < len(rows) < 8


def test_the_sheet_of_a_job(shell: Shell, place: Path, tmp_path: Path) -> None:
    opened = open_store(str(place))
    for kind, row in (("fabrics", {"fabric": "tee"}), ("transfers", {"transfer": "film"}),
                      ("jobs", {"job": "J 1/2", "fabric": "tee", "transfer": "film"}),
                      ("recipes", {"fabric": "tee", "transfer": "film", "version": "1",
                                   "temperature_c": 155.0, "temperature_low_c": 150.0})):
        add_records(opened, kind, pd.DataFrame([row]), by="ann", at_us=T0, source=None)
    opened.close()
    out = tmp_path / "job.csv"
    done = shell.run("report", "job-sheet", "J 1/2", "--store", place, "--out", out,
                     "--as-of", AS_OF)
    assert (done.code, done.out) == (0, "") and "sheet of job J 1/2" in done.err
    (row,) = csv.DictReader(out.read_text(encoding="utf-8-sig").splitlines())
    assert (row["setting"], row["set_to"], row["from"]) == ("Temperature", "155 °C", "150 °C")
    gone = shell.run("report", "job-sheet", "J9", "--store", place, "--out", tmp_path / "x.html")
    assert gone.code == 2 and "'J9' is not among the jobs" in gone.err
    assert not (tmp_path / "x.html").exists()


def test_the_record_of_a_job_a_shift_and_a_month(
    shell: Shell, tmp_path_factory: pytest.TempPathFactory, tmp_path: Path
) -> None:
    shop = case_shop(tmp_path_factory.mktemp("work"))
    shop.store.close()
    given = ("--store", shop.store.location, "--as-of", shop.iso(END_US))
    job = shell.run("report", "job", "J038C", *given, "--out", tmp_path / "job.csv")
    assert (job.code, job.out) == (0, "") and "release record of job J038C" in job.err
    rows = list(csv.DictReader((tmp_path / "job.csv").read_text("utf-8-sig").splitlines()))
    assert len(rows) > 15 and {row["disposition"] for row in rows} <= {"pass", "hold"}
    shift = shell.run("report", "shift", "2026-04-09T10:00", *given, "--out", tmp_path / "s.html")
    assert (shift.code, shift.out) == (0, "") and "shift of 2026-04-09 06:00" in shift.err
    assert "Cedar" in (tmp_path / "s.html").read_text("utf-8")
    now = shell.run("report", "shift", *given, "--out", tmp_path / "now.xlsx")
    assert now.code == 0 and f"shift of {shop.iso(END_US)[:10]} 14:00" in now.err
    month = shell.run("report", "month", "2026-03", *given, "--out", tmp_path / "m.csv")
    assert (month.code, month.out) == (0, "") and "the month 2026-03 is in" in month.err
    days = list(csv.DictReader((tmp_path / "m.csv").read_text("utf-8-sig").splitlines()))
    assert [days[0]["day"], days[-1]["day"]] == ["2026-03-02", "2026-03-31"]
    for wrong, told in ((("month", "2026-3x"), "is not a month"),
                        (("month", "2027-01"), "has not begun"),
                        (("job", "J999"), "no job 'J999'"),
                        (("shift", "2027-01-01"), "has not begun"),
                        (("shift", "soon"), "soon")):
        done = shell.run("report", *wrong, *given, "--out", tmp_path / "x.html")
        assert done.code == 2 and told in done.err, wrong
    assert not (tmp_path / "x.html").exists()


@pytest.mark.parametrize(("arguments", "told"), [
    (("P9", "--out", "x.html"), "no press 'P9'; known: P1, P2"),
    (("P1", "--out", "x.doc"), "must end in"),
    (("P1", "--out", "x.html", "--since", "2026-04-01T00:00Z"), "the period is empty"),
    (("P1",), "--out"),
])
def test_wrong_use_says_what_to_do(
    shell: Shell, place: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    arguments: tuple[str, ...], told: str
) -> None:
    monkeypatch.chdir(tmp_path)
    found = shell.run("report", "press", *arguments, "--store", place, "--as-of", AS_OF)
    assert found.code != 0
    assert told in found.err
    assert list(tmp_path.glob("x.*")) == []
