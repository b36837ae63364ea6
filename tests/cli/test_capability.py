from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.cli.running import Outcome, Shell
from tests.reference.capability import pooled_sigma, sigmas

KEYS = ("n", "mean", "sigma_inherent", "sigma_total", "cp", "cpk", "pp", "ppk", "cpm", "intervals",
        "normality", "percentile", "share_outside_fitted", "share_outside_counted")
X = np.random.default_rng(21).normal(0.4, 1.8, 100).round(2).tolist()
SKEWED = np.random.default_rng(22).lognormal(0, 0.5, 300).round(3).tolist()


def _csv(folder: Path, columns: dict[str, list[Any]], *, name: str = "data.csv",
         separator: str = ",") -> Path:
    lines = [separator.join(columns)]
    lines += [separator.join(map(str, row)) for row in zip(*columns.values(), strict=True)]
    path = folder / name
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _answer(outcome: Outcome) -> dict[str, Any]:
    assert outcome.code == 0, outcome.err
    answer = outcome.json
    assert tuple(answer)[:len(KEYS)] == KEYS
    assert set(answer["intervals"]) == {"cp", "cpk", "pp", "ppk", "cpm"}
    assert {"test", "statistic", "p_value"} <= set(answer["normality"])
    assert {"pp", "ppk", "distribution"} <= set(answer["percentile"])
    return answer


def test_both_limits_and_a_target(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"dx_mm": X})
    found = _answer(shell.run("capability", path, "--value", "dx_mm", "--lower", "-6", "--upper",
                              "6", "--target", "0", "--json"))
    inherent, total = sigmas(X)
    mean = sum(X) / 100
    assert found["n"] == 100
    assert [found["mean"], found["sigma_inherent"], found["sigma_total"]] == pytest.approx(
        [mean, inherent, total], rel=1e-9)
    assert [found["cp"], found["pp"], found["ppk"]] == pytest.approx(
        [2 / inherent, 2 / total, (6 - abs(mean)) / (3 * total)], rel=1e-9)
    assert found["cpm"] == pytest.approx(2 / (total**2 + mean**2) ** 0.5, rel=1e-9)
    for name, (low, high) in found["intervals"].items():
        assert low < found[name] < high
    assert found["percentile"]["distribution"] == "normal"
    assert found["percentile"]["ppk"] == pytest.approx(found["ppk"], rel=1e-4)
    assert found["share_outside_counted"] == sum(abs(x) > 6 for x in X) / 100


def test_one_limit_leaves_what_needs_two_open(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"x": X})
    found = _answer(shell.run("capability", path, "--value", "x", "--upper", "6", "--target", "0",
                              "--json"))
    assert (found["cp"], found["pp"], found["cpm"]) == (None, None, None)
    assert [found["intervals"][name] for name in ("cp", "pp", "cpm")] == [None] * 3
    assert found["percentile"]["pp"] is None
    assert found["cpk"] > 0
    assert found["intervals"]["cpk"][0] < found["cpk"]


def test_without_a_target_cpm_is_open(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"x": X})
    found = _answer(shell.run("capability", path, "--value", "x", "--lower=-6", "--upper=6",
                              "--json"))
    assert found["cpm"] is None
    assert found["cp"] is not None


def test_subgroups_give_the_inherent_sigma(shell: Shell, tmp_path: Path) -> None:
    labels = [f"shift {k // 4}" for k in range(100)]
    path = _csv(tmp_path, {"x": X, "shift": labels})
    found = _answer(shell.run("capability", path, "--value", "x", "--upper", "6", "--subgroup",
                              "shift", "--json"))
    sigma, df = pooled_sigma(X, labels)
    assert found["sigma_inherent"] == pytest.approx(sigma, rel=1e-9)
    assert found["methods"]["degrees_of_freedom"]["sigma_inherent"] == df


def test_confidence_widens_intervals(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"x": X})
    given = ["capability", path, "--value", "x", "--lower", "-6", "--upper", "6", "--json"]
    usual, sure = (_answer(shell.run(*given, *more)) for more in ([], ["--confidence", "0.99"]))
    for name in ("cp", "cpk", "pp", "ppk"):
        assert sure["intervals"][name][0] < usual["intervals"][name][0]
        assert sure["intervals"][name][1] > usual["intervals"][name][1]
    assert sure["confidence"] == 0.99


def test_skewed_values_name_their_distribution(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"x": SKEWED})
    outcome = shell.run("capability", path, "--value", "x", "--upper", "5", "--json")
    found = _answer(outcome)
    assert found["percentile"]["distribution"] == "lognormal"
    assert found["percentile"]["points"]["0.135"] > 0
    low, high = found["percentile"]["intervals"]["ppk"]
    assert low < found["percentile"]["ppk"] < high
    assert found["percentile"]["intervals"]["pp"] is None
    low, high = found["share_outside_fitted_interval"]
    assert low < found["share_outside_fitted"] < high
    assert found["normality"]["p_value"] < 0.001
    assert any("not normal" in caution for caution in found["cautions"])
    assert "not normal" in outcome.err


def test_a_distribution_by_name(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"x": SKEWED})
    found = _answer(shell.run("capability", path, "--value", "x", "--upper", "5",
                              "--distribution", "gamma", "--json"))
    assert found["percentile"]["distribution"] == "gamma"
    assert found["methods"]["distribution"] == "named by the user"


def _placements(folder: Path) -> tuple[Path, np.ndarray]:
    points = np.random.default_rng(23).multivariate_normal(
        [0.5, -0.3], [[4, 1.5], [1.5, 3]], 120).round(2)
    return _csv(folder, {"dx": points[:, 0].tolist(), "dy": points[:, 1].tolist()}), points


def test_placements_in_a_rectangle(shell: Shell, tmp_path: Path) -> None:
    path, points = _placements(tmp_path)
    outcome = shell.run("capability", path, "--values", "dx,dy", "--lower", "-6,-5", "--upper",
                        "6,5", "--json")
    assert outcome.code == 0, outcome.err
    found = outcome.json
    beside = (np.abs(points) > [6, 5]).any(axis=1).mean()
    assert found["n"] == 120
    assert found["mean"] == pytest.approx(points.mean(axis=0).tolist())
    assert found["share_outside_counted"] == pytest.approx(beside)
    assert found["share_inside_fitted"] + found["share_outside_fitted"] == pytest.approx(1)
    low, high = found["intervals"]["share_outside_fitted"]
    assert low < found["share_outside_fitted"] < high
    assert found["contour"]["ppk"] < found["contour"]["pp"]
    assert found["methods"]["share_outside_counted"] == "Clopper-Pearson exact"


def test_placements_in_a_circle_around_a_target(shell: Shell, tmp_path: Path) -> None:
    path, points = _placements(tmp_path)
    outcome = shell.run("capability", path, "--values", "dx,dy", "--radius", "4", "--target",
                        "1,-1", "--json")
    distance = np.hypot(points[:, 0] - 1, points[:, 1] + 1)
    assert outcome.json["share_outside_counted"] == pytest.approx((distance > 4).mean())


def test_placements_that_do_not_vary(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"dx": [1.0] * 6, "dy": [1, 2, 3, 1, 2, 3]})
    outcome = shell.run("capability", path, "--values", "dx,dy", "--radius", "4", "--json")
    assert outcome.code == 0
    assert outcome.json["share_outside_fitted"] is None
    assert outcome.json["ellipse"] is None
    assert outcome.json["share_outside_counted"] == 0
    assert "does not vary" in outcome.err


@pytest.mark.parametrize(("region", "words"), [
    (["--radius", "4", "--target", "1,0"], "a circle of radius 4 around 1, 0"),
    (["--lower", "-6,-5", "--upper", "6,5"], "a rectangle, x -6 to 6, y -5 to 5"),
    (["--upper", "6,5"], "a rectangle, x up to 6, y up to 5"),
    (["--lower", "-6,-5"], "a rectangle, x from -6, y from -5"),
])
def test_placements_for_people(
    shell: Shell, tmp_path: Path, monkeypatch, region: list[str], words: str
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    path, _ = _placements(tmp_path)
    outcome = shell.run("capability", path, "--values", "dx,dy", *region)
    assert outcome.code == 0
    for said in (words, "dx and dy: 120 placements", "are expected outside", "of 120 were counted",
                 "lie in an ellipse", "source: bivariate normal"):
        assert said in outcome.out, said


def test_equal_values_have_no_index_and_say_so(shell: Shell, tmp_path: Path) -> None:
    path = _csv(tmp_path, {"x": [0.1] * 12})
    outcome = shell.run("capability", path, "--value", "x", "--lower", "0", "--upper", "1",
                        "--json")
    found = _answer(outcome)
    assert [found[name] for name in ("cp", "cpk", "pp", "ppk", "cpm")] == [None] * 5
    assert found["normality"]["p_value"] is None
    assert found["percentile"]["distribution"] is None
    assert found["share_outside_fitted"] is None
    assert found["share_outside_counted"] == 0
    assert "all values are equal" in outcome.err


def test_xlsx_and_decimal_commas_are_equal_to_csv(shell: Shell, tmp_path: Path) -> None:
    import xlsxwriter

    plain = _csv(tmp_path, {"at": list(range(100)), "x": X})
    comma = _csv(tmp_path, {"at": list(range(100)), "x": [str(v).replace(".", ",") for v in X]},
                 name="comma.csv", separator=";")
    book = xlsxwriter.Workbook(tmp_path / "data.xlsx")
    book.add_worksheet("notes")
    book.add_worksheet("log").write_column(0, 0, ["x", *X])
    book.close()
    given = ["--value", "x", "--lower", "-6", "--upper", "6", "--json"]
    answers = [_answer(shell.run("capability", path, *given, *more)) for path, more in (
        (plain, []), (comma, []), (tmp_path / "data.xlsx", ["--sheet", "log"]))]
    assert answers[0] == answers[1] == answers[2]


def test_the_text_for_people(shell: Shell, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    path = _csv(tmp_path, {"dx_mm": X})
    outcome = shell.run("capability", path, "--value", "dx_mm", "--lower", "-6", "--upper", "9",
                        "--target", "0")
    assert outcome.code == 0
    assert outcome.err == ""
    for words in ("dx_mm: 100 values", "lower limit -6", "95 % interval", "The lower limit, -6,",
                  "Moving the mean to the middle, 1.5", "0 of 100 were counted outside",
                  "Anderson-Darling p", "ISO 22514-2"):
        assert words in " ".join(outcome.out.split()), words
    assert max(map(len, outcome.out.splitlines())) <= 80


@pytest.mark.parametrize(("values", "words"), [
    (X[:20], "beware: fewer than 50 values"),
    (X[:50] + [x + 8 for x in X[50:]], "beware: the process was not stable"),
    (SKEWED, "is the nearer one, by percentiles"),
    ([3.0] * 9, "0 of 9 were counted outside"),
    ([x + 20 for x in X], "sigma on the wrong side of the mean"),
    (X[:12], "3 sigma to its limits is not shown"),
])
def test_what_to_beware_of_is_said_to_people(
    shell: Shell, tmp_path: Path, monkeypatch, values, words: str
) -> None:
    monkeypatch.setenv("COLUMNS", "200")
    path = _csv(tmp_path, {"x": values})
    outcome = shell.run("capability", path, "--value", "x", "--lower", "-7", "--upper", "7")
    assert outcome.code == 0
    assert words in outcome.out


BAD = [
    (["--value", "n"], "qc capability needs a limit: give --lower, --upper or both"),
    (["--value", "n", "--target", "3"], "needs a limit"),
    (["--upper", "3"], "qc capability needs --value COLUMN, or --values COLUMN,COLUMN"),
    (["--value", "n", "--values", "n,x", "--upper", "3"], "needs --value COLUMN, or --values"),
    (["--value", "n", "--upper", "3", "--radius", "2"], "--value takes no --radius"),
    (["--values", "n,k", "--radius", "2", "--subgroup", "n"], "--values takes no --subgroup"),
    (["--values", "n,k", "--radius", "2", "--distribution", "gamma"], "--values takes no --distri"),
    (["--values", "n", "--radius", "2"], "--values is 'n'; write two columns, as dx_mm,dy_mm"),
    (["--values", "n,n", "--radius", "2"], "--values is 'n,n'; write two columns"),
    (["--values", "n,k"], "needs one region: give --radius, or --lower, --upper or both"),
    (["--values", "n,k", "--radius", "2", "--upper", "1,2"], "needs one region"),
    (["--values", "n,k", "--radius", "0"], "--radius is 0; it must be a finite number above 0"),
    (["--values", "n,k", "--radius", "1,2"], "--radius is '1,2'; write one number"),
    (["--values", "n,k", "--lower", "1"], "--lower is '1'; write two numbers, as -6,6"),
    (["--values", "n,k", "--lower", "1,5", "--upper", "2,5"], "--lower is 5; it must be below --u"),
    (["--values", "n,k", "--lower", "1,5", "--target", "2,5"], "a rectangle takes no --target"),
    (["--values", "n,k", "--radius", "2"], "column 'n' has 3 values; it needs at least 4"),
    (["--values", "n,k", "--radius", "2", "--confidence", "2"], "column 'n' has 3"),
    (["--values", "n,x", "--radius", "2"], "line 4: x is 'two', not a number"),
    (["--value", "n", "--lower", "5", "--upper", "3"], "--lower is 5; it must be below --upper, 3"),
    (["--value", "n", "--lower", "3", "--upper", "3"], "--lower is 3; it must be below --upper, 3"),
    (["--value", "n", "--upper", "high"], "--upper is 'high'; write one number"),
    (["--value", "n", "--upper", "nan"], "--upper is 'nan'; write one number"),
    (["--value", "n", "--upper", "inf"], "--upper is 'inf'; write one number"),
    (["--value", "n", "--upper", "1,5"], "--upper is '1,5'; write one number"),
    (["--value", "n", "--lower", "0", "--upper", "9", "--target", "10"],
     "--target is 10; it must lie within 0 to 9"),
    (["--value", "n", "--upper", "9", "--confidence", "95"], "--confidence is 95; it must be insi"),
    (["--value", "n", "--upper", "9", "--distribution", "bell"], "--distribution is 'bell'; allow"),
    (["--value", "y", "--upper", "9"], "there is no column 'y'; the file has: x, n, k, blank, hug"),
    (["--value", "x", "--upper", "9"], "line 4: x is 'two', not a number; every row needs a numbe"),
    (["--value", "blank", "--upper", "9"], "line 3: blank is blank; every row needs a number"),
    (["--value", "huge", "--upper", "9"], "line 2: huge is 'inf', not a number"),
    (["--value", "n", "--upper", "9", "--subgroup", "blank"], "line 3: blank is blank; every row"),
    (["--value", "n", "--upper", "9", "--subgroup", "n"], "column 'n' has 1 value in every subgr"),
    (["--value", "n", "--upper", "9", "--sheet", "log"], "--sheet 'log' is for XLSX files"),
    (["--value", "n", "--upper", "9", "--colour", "red"], "--colour"),
]


@pytest.mark.parametrize(("arguments", "message"), BAD)
def test_wrong_use_is_one_clear_line(
    shell: Shell, tmp_path: Path, arguments: list[str], message: str
) -> None:
    path = _csv(tmp_path, {"x": ["1.5", "2.5", "two"], "n": [1, 2, 3], "k": [3, 1, 2],
                           "blank": ["1", "", "3"], "huge": ["inf", "1", "2"]})
    outcome = shell.run("capability", path, *arguments, "--json")
    assert outcome.code == 2
    assert message in outcome.err
    assert len(outcome.err.splitlines()) == 1
    assert outcome.out == ""


@pytest.mark.parametrize(("content", "message"), [
    (b"", "empty"), (b"x\n", "column 'x' has 0 values; it needs at least 2"),
    (b"x\n5\n", "column 'x' has 1 values; it needs at least 2"),
    (b"\x00\x01\x02\xff" * 50, "data.csv"), (b"x\n1\n2,3\n", "line 3 has 2 cells"),
])
def test_files_that_are_no_tables_are_one_clear_line(
    shell: Shell, tmp_path: Path, content: bytes, message: str
) -> None:
    path = tmp_path / "data.csv"
    path.write_bytes(content)
    outcome = shell.run("capability", path, "--value", "x", "--upper", "9")
    assert outcome.code == 2
    assert message in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_a_file_that_is_not_there(shell: Shell, tmp_path: Path) -> None:
    outcome = shell.run("capability", tmp_path / "none.csv", "--value", "x", "--upper", "9")
    assert outcome.code == 2
    assert "none.csv" in outcome.err
