"""Bad input on every kind of chart: one clear line and exit code 2, or a chart with a caution."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from qc.desk.charting import KINDS
from tests.cli.chart_made import answered, csv_file
from tests.cli.running import Shell

N = 30
ARGUMENTS: dict[str, list[str]] = {
    **dict.fromkeys(("individuals", "t", "ewma", "cusum", "q"), ["--value", "x"]),
    **dict.fromkeys(("xbar-r", "xbar-s"), ["--value", "x", "--subgroup", "g"]),
    **dict.fromkeys(("p", "np", "u", "p-prime", "u-prime", "q-p", "q-u"),
                    ["--count", "k", "--size", "n"]),
    **dict.fromkeys(("c", "g"), ["--count", "k"]),
    **dict.fromkeys(("t2", "mewma"), ["--values", "x,y"]),
    "deviation": ["--value", "x", "--nominal", "m"],
    "standardised": ["--value", "x", "--part", "g"],
}
MEASURED = ("individuals", "xbar-r", "xbar-s", "t", "ewma", "cusum", "q", "t2", "mewma",
            "deviation", "standardised")
COUNTS = ("p", "np", "c", "u", "p-prime", "u-prime", "g", "q-p", "q-u")
OF_PIECES = ("p", "np", "p-prime", "q-p")
SIZED = (*OF_PIECES, "u", "u-prime", "q-u")


def made(n: int = N, **other: Any) -> dict[str, list[Any]]:
    """A file any kind can be charted from, with some columns replaced."""
    generator = np.random.default_rng(2)
    columns: dict[str, list[Any]] = {
        "x": generator.normal(10, 1, n).round(3).tolist(),
        "y": generator.normal(5, 1, n).round(3).tolist(),
        "k": generator.binomial(50, 0.1, n).tolist(), "n": [50] * n, "m": [10] * n,
        "g": [f"s{k // 5}" for k in range(n)],
    }
    return columns | other


def spoilt(value: object, *names: str, at: int = 3) -> dict[str, list[Any]]:
    """The same with one cell of these columns replaced."""
    columns = made()
    for name in names:
        columns[name] = [*columns[name][:at], value, *columns[name][at + 1:]]
    return columns


def refused(shell: Shell, folder: Path, kind: str, columns: dict[str, list[Any]],
            *more: object) -> str:
    """What is said of it, on one line; nothing on standard output."""
    outcome = shell.run("chart", csv_file(folder, columns), "--kind", kind, *ARGUMENTS[kind],
                        *more, "--json")
    assert (outcome.code, outcome.out) == (2, ""), outcome.err
    assert len(outcome.err.splitlines()) == 1
    return outcome.err


def charted(shell: Shell, folder: Path, kind: str, columns: dict[str, list[Any]],
            *more: object) -> tuple[dict[str, Any], str]:
    """The answer, and what is said beside it."""
    outcome = shell.run("chart", csv_file(folder, columns), "--kind", kind, *ARGUMENTS[kind],
                        *more, "--json")
    return answered(outcome), outcome.err


def test_every_kind_is_tried() -> None:
    assert ARGUMENTS.keys() == KINDS.keys()
    assert {*MEASURED, *COUNTS} == {*KINDS}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(("cell", "words"), [
    ("nan", "is 'nan', not a number"), ("", "is blank"), ("inf", "is 'inf', not a number"),
    ("-inf", "is '-inf', not a number"), ("two", "is 'two', not a number"),
    ("1e400", "is '1e400', not a number"), ("0x10", "is '0x10', not a number"),
    ("1;2", "is '1;2', not a number"),
])
def test_what_is_no_number(shell: Shell, tmp_path: Path, kind: str, cell: str, words: str) -> None:
    said = refused(shell, tmp_path, kind, spoilt(cell, "x", "k"))
    assert "line 5: " in said
    assert words in said


@pytest.mark.parametrize("kind", KINDS)
def test_a_file_without_rows(shell: Shell, tmp_path: Path, kind: str) -> None:
    assert "there are no rows below the header" in refused(shell, tmp_path, kind, made(0))


@pytest.mark.parametrize("kind", KINDS)
def test_one_row(shell: Shell, tmp_path: Path, kind: str) -> None:
    if kind in ("p", "np", "c", "u", "g"):  # a count has its limits from the model alone
        answer, said = charted(shell, tmp_path, kind, made(1))
        assert len(answer["charts"][0]["points"]) == 1
        assert "fewer than 20 points" in said
    else:
        said = refused(shell, tmp_path, kind, made(1))
        assert "1 value" in said or "1 point" in said or "no point with a Q" in said


@pytest.mark.parametrize("kind", KINDS)
def test_values_that_do_not_vary(shell: Shell, tmp_path: Path, kind: str) -> None:
    columns = made(x=[10] * N, y=[5] * N, k=[4] * N)
    if kind in ("t2", "mewma", "standardised", "q"):  # nothing to measure a distance by
        assert "vary" in refused(shell, tmp_path, kind, columns) or kind == "standardised"
        return
    answer, said = charted(shell, tmp_path, kind, columns)
    assert not any(point["signals"] for chart in answer["charts"] for point in chart["points"])
    if kind in MEASURED or "prime" in kind:
        assert "do not vary: any other value signals" in said


@pytest.mark.parametrize("kind", COUNTS)
def test_nothing_counted(shell: Shell, tmp_path: Path, kind: str) -> None:
    answer, said = charted(shell, tmp_path, kind, made(k=[0] * N))
    assert not any(point["signals"] for point in answer["charts"][0]["points"])
    if kind not in ("q-p", "q-u"):
        assert "nothing was counted" in said or "do not vary" in said


@pytest.mark.parametrize("kind", COUNTS)
@pytest.mark.parametrize("cell", [-1, 2.5])
def test_counts_are_whole_and_not_negative(shell: Shell, tmp_path: Path, kind: str, cell) -> None:
    said = refused(shell, tmp_path, kind, spoilt(cell, "k"))
    assert f"column 'k' is {cell} in line 5; allowed: whole numbers from 0" in said


@pytest.mark.parametrize("kind", OF_PIECES)
def test_no_more_are_counted_than_inspected(shell: Shell, tmp_path: Path, kind: str) -> None:
    said = refused(shell, tmp_path, kind, spoilt(60, "k"))
    assert "column 'k' is 60 in line 5; allowed: 0 to the number inspected" in said


@pytest.mark.parametrize("kind", SIZED)
@pytest.mark.parametrize("cell", [0, -5])
def test_sizes_are_above_nothing(shell: Shell, tmp_path: Path, kind: str, cell) -> None:
    said = refused(shell, tmp_path, kind, spoilt(cell, "n"))
    assert f"column 'n' is {cell} in line 5; allowed: " in said


@pytest.mark.parametrize("kind", SIZED)
def test_pieces_are_whole_and_areas_need_not_be(shell: Shell, tmp_path: Path, kind: str) -> None:
    if kind in OF_PIECES:
        assert "is 50.5 in line 5; allowed: whole" in refused(
            shell, tmp_path, kind, spoilt(50.5, "n"))
    else:
        charted(shell, tmp_path, kind, spoilt(50.5, "n"))


def test_a_time_is_not_negative(shell: Shell, tmp_path: Path) -> None:
    assert "column 'x' is -1 in line 5" in refused(shell, tmp_path, "t", spoilt(-1, "x"))


@pytest.mark.parametrize("kind", ["xbar-r", "xbar-s"])
def test_a_subgroup_of_one(shell: Shell, tmp_path: Path, kind: str) -> None:
    said = refused(shell, tmp_path, kind, made(g=["lone"] + ["rest"] * (N - 1)))
    assert "column 'g' has 1 value in 'lone' (point 1); each must have 2" in said


@pytest.mark.parametrize("kind", ["ewma", "cusum"])
def test_a_subgroup_of_one_among_others_is_a_point(shell: Shell, tmp_path: Path, kind) -> None:
    answer, _ = charted(shell, tmp_path, kind, made(g=["lone"] + [f"s{k // 6}" for k in
                                                                  range(N - 1)]),
                        "--subgroup", "g")
    assert answer["charts"][0]["points"][0]["label"] == "lone"


@pytest.mark.parametrize("kind", ["xbar-r", "xbar-s", "ewma", "cusum", "t2", "mewma"])
def test_subgroups_of_many_sizes_are_charted(shell: Shell, tmp_path: Path, kind: str) -> None:
    more = [] if kind.startswith("xbar") else ["--subgroup", "g"]
    answer, _ = charted(shell, tmp_path, kind, made(g=list("aaabbbbbbbccccc" + "d" * 15)), *more)
    assert [point["label"] for point in answer["charts"][0]["points"]] == list("abcd")


def test_np_needs_one_size(shell: Shell, tmp_path: Path) -> None:
    said = refused(shell, tmp_path, "np", spoilt(80, "n"))
    assert "column 'n' is 80 in line 5; allowed: one size for all samples" in said
    assert "use a p chart" in said


@pytest.mark.parametrize(("kind", "arguments"), [
    ("t2", ["--values", "x,x2"]), ("mewma", ["--values", "x,x2"]),
])
def test_variables_that_follow_from_each_other(shell: Shell, tmp_path: Path, kind, arguments
                                               ) -> None:
    columns = made()
    columns["x2"] = [2 * x for x in columns["x"]]
    outcome = shell.run("chart", csv_file(tmp_path, columns), "--kind", kind, *arguments)
    assert outcome.code == 2
    assert "columns x, x2 follow from each other" in outcome.err


@pytest.mark.parametrize("kind", MEASURED)
def test_numbers_of_any_size(shell: Shell, tmp_path: Path, kind: str) -> None:
    for scale in (1e-12, 1e12):
        columns = made()
        columns |= {name: [scale * value for value in columns[name]] for name in ("x", "y", "m")}
        answer, _ = charted(shell, tmp_path, kind, columns)
        assert all(point["upper"] is not None for point in answer["charts"][0]["points"])


OPTIONS = [
    ("individuals", ["--centre", "nan"], "--centre is nan; it must be a number"),
    ("individuals", ["--sigma", "inf"], "--sigma is inf; it must be a number"),
    ("individuals", ["--width", "0"], "--width is 0; it must be a finite number above 0"),
    ("individuals", ["--alpha", "0.1"], "'individuals' takes no --alpha"),
    ("individuals", ["--limits", "steady"], "'individuals' takes no --limits"),
    ("individuals", ["--baseline", "5:2"], "--baseline is 5:2; it must lie inside 1:30"),
    ("individuals", ["--exclude", "3"], "--exclude is '3'; write the point and the cause"),
    ("individuals", ["--exclude", "3="], "--exclude is '3='; write the point and the cause"),
    ("individuals", ["--exclude", "99=slip"], "--exclude has point 99; it must lie inside"),
    ("individuals", ["--exclude", "3=a", "--exclude", "3=b"], "--exclude names point 3 twice"),
    ("individuals", ["--baseline", "1:3", "--exclude", "2=a"], "no two of them neighbours"),
    ("individuals", ["--centre", "two"], "Invalid value for '--centre'"),
    ("p", ["--alpha", "0.01"], "--alpha is for --limits probability; give both or none"),
    ("p", ["--limits", "probability", "--alpha", "0"], "--alpha is 0; it must be"),
    ("p", ["--limits", "exact"], "--limits is 'exact'; allowed: sigma, probability"),
    ("p", ["--centre", "2"], "--centre is 2; it must be a share"),
    ("c", ["--centre", "-1"], "--centre is -1; it must be a finite number, 0 and up"),
    ("ewma", ["--limits", "probability"], "--limits is 'probability'; allowed: exact, steady"),
    ("cusum", ["--decision", "0"], "--decision is 0; it must be a finite number above 0"),
    ("cusum", ["--reference", "-1"], "--reference is -1; it must be 0 or above"),
    ("cusum", ["--head-start", "6"], "--head-start is 6; it must be 0 or above and below decis"),
    ("cusum", ["--lambda", "0.2"], "'cusum' takes no --lambda"),
    ("t2", ["--alpha", "2"], "--alpha is 2; it must be inside (0, 1)"),
    ("t2", ["--centre", "2"], "'t2' takes no --centre"),
    ("t2", ["--rules", "all"], "--rules is 'all'; allowed: limits"),
    ("mewma", ["--decision", "-1"], "--decision is -1; it must be a finite number above 0"),
    ("q", ["--baseline", "1:5"], "'q' takes no --baseline"),
    ("deviation", ["--within", "sd"], "--within is 'sd'; allowed: range, standard deviation"),
    ("p-prime", ["--sigma", "-1"], "--sigma is -1; it must be a finite number above 0"),
]


@pytest.mark.parametrize(("kind", "options", "words"), OPTIONS)
def test_options_out_of_range_or_of_another_kind(shell: Shell, tmp_path: Path, kind, options,
                                                 words) -> None:
    assert words in refused(shell, tmp_path, kind, made(), *options)


@pytest.mark.parametrize("text", ["x,", "x,x", ""])
def test_values_are_different_columns(shell: Shell, tmp_path: Path, text: str) -> None:
    outcome = shell.run("chart", csv_file(tmp_path, made()), "--kind", "t2", "--values", text)
    assert outcome.code == 2
    assert f"--values is {text!r}; write different columns" in outcome.err


def test_a_million_rows_go_through(shell: Shell, tmp_path: Path) -> None:
    x = np.random.default_rng(1).normal(10, 1, 1_000_000).round(3)
    path = tmp_path / "long.csv"
    path.write_text("x\n" + "\n".join(map(str, x.tolist())) + "\n", encoding="utf-8")
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x")
    assert outcome.code == 0
    assert "1000000 points" in outcome.out
    assert len(outcome.out.splitlines()) < 120
