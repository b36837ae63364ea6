"""`qc presses` says what was set beside the recipes, shortly."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from qc.cli.presses_settings import MOST_ROWS, TITLE
from qc.domain.instants import iso
from qc.domain.platens import HOT_PLATEN_CAUTION
from tests.cli.running import Shell
from tests.cli.test_presses import KEYS
from tests.qc.desk.recipe_shop import END_US, build_shop, load

AS_OF = ("--as-of", iso(END_US, None))


@pytest.fixture
def place(tmp_path: Path) -> Path:
    build_shop(tmp_path).store.close()
    return tmp_path / "shop.db"


@pytest.fixture(autouse=True)
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


def test_the_worst_rows_stand_below_the_checks(shell: Shell, place: Path) -> None:
    outcome = shell.run("presses", "--store", place, *AS_OF)
    lines = outcome.out.splitlines()
    assert outcome.code == 0 and max(map(len, lines)) <= 80
    heat, = [line for line in lines if line.split()[:3] == ["Brook", "actual", "temperature"]]
    assert "160 of 290" in heat and "−9.5 °C (−9.5 to +0.5)" in heat
    dwell, = [line for line in lines if line.split()[:3] == ["Anvil", "dwell", "150"]]
    assert "150 of 290" in dwell and "46–57.4 %" in dwell and "+3.0 s (0.0 to +3.0)" in dwell
    assert lines.index(heat) < lines.index(dwell)
    text = " ".join(outcome.out.split())
    assert "by Ana 100 of 190, Rui 50 of 100; on rib with film 150 of 290" in text
    assert "160 with the display inside its window: it is the platen that is off" in text
    assert "5 settings of presses without a piece outside, 1,450 pieces in the last 30 days" in text
    assert "Cannot be told: Actual temperature at Anvil" in text
    assert " ".join(HOT_PLATEN_CAUTION.split()) in text


def test_json_stays_what_the_contract_says(shell: Shell, place: Path) -> None:
    rows = shell.run("presses", "--store", place, *AS_OF, "--json").json
    assert rows and all(list(row) == KEYS for row in rows)


def test_many_rows_are_cut_with_a_word_on_the_rest(
    shell: Shell, place: Path, tmp_path: Path
) -> None:
    rows = [f"m{k},2026-01-30T09:00Z,Mill {k},rib,film,30," for k in range(12)]
    head = "piece_id,inspected_at,press,fabric,transfer,dwell_s,defects"
    (tmp_path / "mill.csv").write_text("\n".join([head, *rows]) + "\n")
    from qc.desk.shop import open_shop

    shop = open_shop(str(place))
    load(shop, tmp_path / "mill.csv")
    shop.store.close()
    outcome = shell.run("presses", "--store", place, *AS_OF)
    section = outcome.out[outcome.out.index(TITLE):].splitlines()
    assert max(map(len, section)) <= 80
    assert len([line for line in section if re.search(r" of \d+ .*–.* %", line)]) == MOST_ROWS
    assert "8 more with pieces outside" in " ".join(outcome.out.split())


def test_nothing_is_said_where_no_recipe_is_loaded(shell: Shell, tmp_path: Path) -> None:
    from qc.desk.shop import open_shop

    shop = open_shop(str(tmp_path / "bare.db"), create=True)
    (tmp_path / "bare.csv").write_text("press\nAnvil\n")
    load(shop, tmp_path / "bare.csv")
    shop.store.close()
    outcome = shell.run("presses", "--store", tmp_path / "bare.db", *AS_OF)
    assert outcome.code == 0 and "Anvil" in outcome.out and TITLE not in outcome.out


def test_fahrenheit_and_psi(shell: Shell, tmp_path: Path) -> None:
    build_shop(tmp_path, temperature_unit="f", pressure_unit="psi").store.close()
    outcome = shell.run("presses", "--store", tmp_path / "shop.db", *AS_OF)
    assert "−17.1 °F (−17.1 to +0.9)" in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 80
