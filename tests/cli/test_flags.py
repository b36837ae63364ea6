"""`qc flags` as a shell sees it, on the demo shop: text, JSON, looking back, and the hold list."""

from __future__ import annotations

import csv
import re
from datetime import datetime
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from demo_data import demo_shop, demo_truth
from demo_data.building import build_store
from qc.domain.flags import FLAG_KINDS
from qc.store import open_store
from reports.hold_list import ON_THE_WAY_OUT
from tests.cli.running import Shell
from tests.reports.pdf_read import Paper, dense

EVENING = "2026-11-20T20:00:00+00:00"
KEYS = [
    "id", "kind", "press", "platen", "characteristic", "direction", "zone", "signalled_at",
    "changed_at", "changed_between", "ended_at", "state", "factor", "other_factors", "before",
    "after", "expected_after", "unit", "pieces_at_risk", "also", "message", "next_step",
    "sure", "settle", "part_of",
]
LOT = "transfer_lot"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop, in a store of these tests alone."""
    place = tmp_path_factory.mktemp("demo") / "demo.db"
    build_store(demo_shop(), place, by="tester")
    return place


def _flags(shell: Shell, demo: Path, as_of: str = EVENING) -> list[dict]:
    outcome = shell.run("flags", "--store", demo, "--as-of", as_of, "--json")
    assert (outcome.code, outcome.err) == (0, "")
    return outcome.json


def _lot_flag(shell: Shell, demo: Path) -> dict:
    """The flag of the transfer lot that bonded badly: pieces of many presses, and it has ended."""
    (planted,) = [fault for fault in demo_truth() if fault.factor == LOT]
    (found,) = [flag for flag in _flags(shell, demo)
                if flag["factor"]["name"] == LOT and flag["factor"]["level"] == planted.level]
    return found


def test_json_is_what_the_contract_says(shell: Shell, demo: Path) -> None:
    flags = _flags(shell, demo)
    assert flags and all(list(flag) == KEYS for flag in flags)
    assert len({flag["id"] for flag in flags}) == len(flags)
    for flag in flags:
        assert flag["kind"] in FLAG_KINDS and flag["direction"] in ("up", "down")
        weights = [share["weight"] for share in (flag["factor"], *flag["other_factors"])]
        assert 0 < sum(weights) <= 1 + 1e-9
        first, changed, last = map(datetime.fromisoformat, (
            flag["changed_between"][0], flag["changed_at"], flag["changed_between"][1]))
        assert first <= changed <= last and changed.utcoffset() is not None
        assert (flag["state"] == "open") is (flag["ended_at"] is None)
        assert all(flag[key].endswith(".") for key in ("message", "next_step", "sure"))
        rivals = [share for share in flag["other_factors"] if share["weight"] >= 0.1]
        assert (flag["settle"] is None) is (not rivals)
    assert {flag["state"] for flag in flags} == {"open", "ended"}


def test_text_says_the_same_in_the_same_order(
    shell: Shell, demo: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    outcome = shell.run("flags", "--store", demo, "--as-of", EVENING)
    assert (outcome.code, outcome.err) == (0, "")
    assert max(map(len, outcome.out.splitlines())) <= 80
    said = " ".join(outcome.out.split())
    flags = _flags(shell, demo)
    in_order = [f for f in flags if f["state"] == "open"] + [
        f for f in flags if f["state"] == "ended"]
    at = [said.index(f"flag {flag['id']}") for flag in in_order]
    assert at == sorted(at)
    assert all(flag["message"] in said for flag in flags)
    assert all(flag["next_step"] in said for flag in flags if flag["part_of"] is None)
    assert said.index("Ended, not yet closed") < said.index(f"flag {in_order[-1]['id']}")
    assert all(flag["sure"] in said for flag in flags)
    assert "By luck alone about one false flag in four weeks." in said


def test_looking_back_uses_nothing_later(shell: Shell, demo: Path) -> None:
    then = datetime.fromisoformat("2026-10-10T18:00:00+00:00")
    before = {flag["id"]: flag for flag in _flags(shell, demo, then.isoformat())}
    after = {flag["id"]: flag for flag in _flags(shell, demo)}
    assert before and set(before) < set(after)
    for name, flag in before.items():
        assert datetime.fromisoformat(flag["signalled_at"]) <= then
        assert flag["signalled_at"] == after[name]["signalled_at"]
    newer = {name: flag for name, flag in after.items() if name not in before}
    assert all(datetime.fromisoformat(flag["signalled_at"]) > then for flag in newer.values())


def test_an_empty_store_has_no_flags(shell: Shell, tmp_path: Path) -> None:
    empty = tmp_path / "empty.db"
    open_store(str(empty), create=True).close()
    assert shell.run("flags", "--store", empty, "--json").json == []
    outcome = shell.run("flags", "--store", empty)
    assert (outcome.code, "Nothing is off" in outcome.out) == (0, True)
    listed = shell.run("flags", "--store", empty, "--hold", "x", "--out", tmp_path / "x.csv")
    assert (listed.code, listed.out, listed.err.count("\n")) == (2, "", 1)


def test_a_store_that_is_not_there_is_exit_3(shell: Shell, tmp_path: Path) -> None:
    for more in ((), ("--json",), ("--hold", "x", "--out", tmp_path / "x.csv")):
        outcome = shell.run("flags", "--store", tmp_path / "none.db", *more)
        assert (outcome.code, outcome.out, outcome.err.count("\n")) == (3, "", 1)
    assert not list(tmp_path.iterdir())


def test_a_hold_list_to_print(shell: Shell, demo: Path, tmp_path: Path) -> None:
    flag, file = _lot_flag(shell, demo), tmp_path / "hold.html"
    outcome = shell.run("flags", "--store", demo, "--as-of", EVENING, "--hold", flag["id"],
                        "--out", file)
    assert (outcome.code, outcome.err) == (0, "")
    assert outcome.out == f"{flag['pieces_at_risk']} pieces to hold: {file}\n"
    page = file.read_text(encoding="utf-8")
    assert f"Hold list: transfer lot {flag['factor']['level']}" in page
    assert flag["message"] in page and "Quillmere Press House" in page
    assert len(re.findall(r'<th scope="row"', page.partition('class="list"')[2])) == flag[
        "pieces_at_risk"]


def test_a_hold_list_on_paper(shell: Shell, demo: Path, tmp_path: Path) -> None:
    flag, file = _lot_flag(shell, demo), tmp_path / "hold.pdf"
    outcome = shell.run("flags", "--store", demo, "--as-of", EVENING, "--hold", flag["id"],
                        "--out", file)
    assert (outcome.code, outcome.err) == (0, "")
    paper = Paper(file.read_bytes())
    words = " ".join("\n".join(paper.texts).split())
    assert f"Hold list: transfer lot {flag['factor']['level']}" in words
    assert dense(flag["message"]) in dense(words) and "Quillmere Press House" in words
    begins = next(at for at, text in enumerate(paper.texts) if "Pieces to hold" in text)
    listed = [len([box for box in paper.shapes(page) if box[2] - box[0] < 12])
              for page in range(begins, len(paper.texts))]
    assert sum(listed) == flag["pieces_at_risk"]  # a box for each piece


def test_a_hold_list_for_spreadsheets_and_programs(
    shell: Shell, demo: Path, tmp_path: Path
) -> None:
    flag = _lot_flag(shell, demo)
    for name in ("hold.xlsx", "hold.csv"):
        outcome = shell.run("flags", "--store", demo, "--as-of", EVENING, "--json",
                            "--hold", flag["id"], "--out", tmp_path / name)
        assert outcome.json == {"hold": flag["id"], "file": str(tmp_path / name),
                                "pieces": flag["pieces_at_risk"]}
    with (tmp_path / "hold.csv").open(encoding="utf-8-sig", newline="") as file:
        listed = list(csv.DictReader(file))
    assert len(listed) == flag["pieces_at_risk"]
    assert {row[LOT] for row in listed} == {flag["factor"]["level"]}
    walk = [(ON_THE_WAY_OUT.get(row["status"], 0), row["job"]) for row in listed]
    assert walk == sorted(walk)  # in the house first; jobs are all named alike here
    first, last = min(row["pressed_at"] for row in listed), flag["changed_between"][0]
    assert datetime.fromisoformat(first) >= datetime.fromisoformat(last)
    rows = CalamineWorkbook.from_path(str(tmp_path / "hold.xlsx")).get_sheet_by_name(
        "Pieces to hold").to_python()
    assert [row[0] for row in rows[1:]] == [row["piece_id"] for row in listed]
    walls = [datetime.fromisoformat(row["pressed_at"]).replace(tzinfo=None, second=0,
                                                               microsecond=0) for row in listed]
    at = next(i for i, name in enumerate(rows[0]) if name.startswith("Pressed at"))
    assert [row[at].replace(second=0, microsecond=0) for row in rows[1:]] == walls


@pytest.mark.parametrize("ending", ["pdf", "html", "xlsx", "csv"])
def test_the_same_question_gives_the_same_bytes(
    shell: Shell, demo: Path, tmp_path: Path, ending: str
) -> None:
    name = _lot_flag(shell, demo)["id"]
    files = [tmp_path / f"{number}.{ending}" for number in (1, 2)]
    for file in files:
        shell.run("flags", "--store", demo, "--as-of", EVENING, "--hold", name, "--out", file)
    assert files[0].read_bytes() == files[1].read_bytes()


def test_wrong_use_is_one_clear_line(shell: Shell, demo: Path, tmp_path: Path) -> None:
    cases = {
        ("--hold", "nope", "--out", tmp_path / "x.html"): "there is no flag 'nope' as of 2026-11",
        ("--hold", "nope"): "--hold FLAG_ID and --out FILE go together",
        ("--out", tmp_path / "x.html"): "--hold FLAG_ID and --out FILE go together",
        ("--hold", "nope", "--out", tmp_path / "x.txt"): "must end in .pdf, .html, .xlsx, .csv",
        ("--hold", "nope", "--out", tmp_path / "no" / "x.csv"): "its folder is not there",
    }
    for options, words in cases.items():
        outcome = shell.run("flags", "--store", demo, "--as-of", EVENING, *options)
        assert (outcome.code, outcome.out, outcome.err.count("\n")) == (2, "", 1), options
        assert words in outcome.err
    late = shell.run("flags", "--store", demo, "--as-of", "soon")
    assert (late.code, late.out) == (2, "") and "'soon' is not a time" in late.err
    assert not list(tmp_path.iterdir())
