from __future__ import annotations

from pathlib import Path

import pytest

from qc.desk.shop import open_shop
from qc.domain.instants import iso
from qc.domain.records import INSPECTIONS
from qc.store import open_store
from qc.store.inspections import add_inspections
from qc.store.settings import change_setting
from tests.cli.running import Shell
from tests.qc.monitor.hand_shop import HOUR_US, START_US, frames, looks_of_shop
from tests.reference.pareto import pareto

LOOKS = looks_of_shop()
LATER_US = START_US + 24 * 60 * HOUR_US


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A real store with the hand-made shop in it."""
    place = tmp_path_factory.mktemp("shop") / "hand.db"
    opened = open_store(str(place), create=True)
    looks, findings = frames(LOOKS)
    looks["disposition"] = "pass"
    for field in INSPECTIONS.fields:
        if field.name not in looks:
            looks[field.name] = None
    new = {"presses": set(looks["press"]), "fabrics": set(looks["fabric"]),
           "transfers": set(looks["transfer"])}
    add_inspections(opened, looks, findings.rename(columns={"look": "row"}), by="tester",
                    at_us=LATER_US, source="hand", new_codes=new)
    change_setting(opened, name="timezone", value="Europe/Lisbon", by="tester", at_us=LATER_US)
    opened.close()
    return place


def _time(instant_us: int, place: Path) -> str:
    return iso(instant_us, open_shop(str(place)).zone)


@pytest.mark.parametrize("by", ["defect", "press", "location", "press,defect", "zone"])
def test_answers_what_plain_loops_answer(shell: Shell, store: Path, by: str) -> None:
    outcome = shell.run("pareto", "--store", store, "--by", by, "--json")
    assert outcome.code == 0
    wanted = pareto(LOOKS, tuple(by.split(",")))
    assert outcome.json["by"] == by.split(",")
    assert outcome.json["pieces"] == sum(
        row["pieces"] for row in pareto(LOOKS, ("press",)))
    assert [row["level"] for row in outcome.json["rows"]] == [row["level"] for row in wanted]
    for found, row in zip(outcome.json["rows"], wanted, strict=True):
        assert set(found) == set(row)
        numbers = set(row) - {"level"}
        assert {k: found[k] for k in numbers} == pytest.approx(
            {k: row[k] for k in numbers}, rel=1e-9, abs=1e-9)


def test_a_period_and_a_kind(shell: Shell, store: Path) -> None:
    since, until = START_US + 48 * HOUR_US, START_US + 300 * HOUR_US
    outcome = shell.run("pareto", "--store", store, "--by", "transfer_lot", "--defect", "scorch",
                        "--since", _time(since, store), "--until", _time(until, store), "--json")
    wanted = pareto(LOOKS, ("transfer_lot",), kinds=("scorch",), since=since, until=until)
    assert [(r["level"], r["defects"]) for r in outcome.json["rows"]] == [
        (r["level"], r["defects"]) for r in wanted]


def test_looking_back_uses_nothing_later(shell: Shell, store: Path) -> None:
    as_of = START_US + 200 * HOUR_US
    known = [look for look in LOOKS if look["inspected_at"] <= as_of]
    outcome = shell.run("pareto", "--store", store, "--by", "press", "--json", "--as-of",
                        _time(as_of, store))
    found = {row["level"][0]: row["expected"] for row in outcome.json["rows"]}
    wanted = {row["level"][0]: row["expected"] for row in pareto(known, ("press",))}
    assert found == pytest.approx(wanted)


def test_shifts_split_all_pieces(shell: Shell, store: Path) -> None:
    answer = shell.run("pareto", "--store", store, "--by", "shift", "--json").json
    assert {row["level"][0] for row in answer["rows"]} == {"06:00", "14:00", "22:00"}
    assert sum(row["pieces"] for row in answer["rows"]) == answer["pieces"]


def test_the_table_reads_at_80_columns(
    shell: Shell, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    outcome = shell.run("pareto", "--store", store, "--by", "press,defect")
    assert outcome.code == 0
    lines = outcome.out.splitlines()
    assert max(map(len, lines)) <= 80
    # 20 where 8 are expected, and 8 where 17 are
    assert next(line for line in lines if "P4" in line and "scorch" in line).endswith("more")
    assert next(line for line in lines if "P3" in line and "lifted" in line).endswith("fewer")
    assert "usual rates" in outcome.out


@pytest.mark.parametrize(("arguments", "message"), [
    (["--by", "colour"], "cannot rank by 'colour'; allowed: defect, press, fabric"),
    (["--by", "press,press"], "cannot rank by 'press,press'; give one dimension or two"),
    (["--by", "press,zone,job"], "cannot rank by 'press,zone,job'"),
    (["--by", ""], "cannot rank by ''"),
    (["--defect", "liftededge"], "there is no defect kind 'liftededge'; known: adhesive_halo"),
    (["--since", "yesterday"], "'yesterday' is not a time"),
    (["--since", "2026-03-29T01:30"], "does not exist in Europe/Lisbon"),
    (["--since", "2026-03-09", "--until", "2026-03-09"], "the period is empty: since 2026-03-09"),
    (["--since", "2026-03-09", "--until", "2026-03-02"], "the period is empty: since 2026-03-09"),
])
def test_wrong_use_is_one_clear_line(
    shell: Shell, store: Path, arguments: list[str], message: str
) -> None:
    outcome = shell.run("pareto", "--store", store, *arguments)
    assert outcome.code == 2
    assert message in outcome.err
    assert len(outcome.err.splitlines()) == 1
    assert outcome.out == ""


def test_a_missing_store_is_said(shell: Shell, tmp_path: Path) -> None:
    outcome = shell.run("pareto", "--store", tmp_path / "none.db")
    assert outcome.code == 3
    assert len(outcome.err.splitlines()) == 1
