from __future__ import annotations

import json
from io import StringIO
from pathlib import Path

import numpy as np
import pytest

from qc.cli.chart import _write_json
from qc.desk.charting import ChartRequest, FileChart
from qc.stats.charts.chart import ControlChart, make_chart
from tests.cli.chart_made import answered, column, csv_file, signalling
from tests.cli.running import Shell
from tests.published import case


def test_a_p_chart_of_samples_of_many_sizes(shell: Shell, tmp_path: Path) -> None:
    published = case("p_variable_n_ishikawa_motors")
    path = csv_file(tmp_path, {"bad": published["data"]["D"], "looked_at": published["data"]["n"]})
    answer = answered(shell.run("chart", path, "--kind", "p", "--count", "bad", "--size",
                               "looked_at", "--json"))
    wanted, (chart,) = published["recomputed"], answer["charts"]
    assert answer["kind"] == "p"
    assert answer["sigma"] is None
    assert answer["source"].startswith("ISO 7870-2:2013")
    assert chart["name"] == "fraction nonconforming"
    assert chart["centre"] == pytest.approx(wanted["pbar"], rel=1e-9)
    assert column(chart, "upper") == pytest.approx(wanted["UCL"], rel=1e-9)
    assert column(chart, "lower") == pytest.approx(wanted["LCL"], rel=1e-8, abs=1e-12)
    assert column(chart, "at") == list(range(1, 21))
    assert column(chart, "label") == [str(at) for at in range(1, 21)]
    assert signalling(chart) == published["signals"]["p_beyond_limits"]


def test_a_u_chart_of_areas_that_are_not_whole(shell: Shell, tmp_path: Path) -> None:
    published = case("u_ishikawa_wire_cracks")
    path = csv_file(tmp_path, {"c": published["data"]["c"], "n": published["data"]["n"]})
    chart, = answered(shell.run("chart", path, "--kind", "u", "--count", "c", "--size", "n",
                               "--json"))["charts"]
    assert column(chart, "upper") == pytest.approx(published["recomputed"]["UCL"], rel=1e-9)
    assert column(chart, "lower") == [0] * 20


def test_individuals_come_with_their_moving_range(shell: Shell, tmp_path: Path) -> None:
    published = case("imr_concentration")
    path = csv_file(tmp_path, {"x": published["data"]["x"]})
    answer = answered(shell.run("chart", path, "--kind", "individuals", "--value", "x", "--json"))
    main, moving = answer["charts"]
    wanted = published["recomputed"]
    assert (main["name"], moving["name"]) == ("individuals", "moving range")
    assert answer["sigma"] == pytest.approx(wanted["sigma_hat"], rel=1e-9)
    assert main["points"][0]["upper"] == pytest.approx(wanted["X_UCL"], rel=1e-9)
    assert column(moving, "value") == pytest.approx(wanted["MR"], rel=1e-9)
    assert column(moving, "at") == list(range(2, 21))
    assert moving["points"][0]["label"] == "2"
    assert moving["points"][0]["upper"] == pytest.approx(wanted["MR_UCL"], rel=1e-9)


def test_an_ewma_with_exact_limits(shell: Shell, tmp_path: Path) -> None:
    published = case("ewma_montgomery_30")
    path = csv_file(tmp_path, {"x": published["data"]["x"]})
    given = ["chart", path, "--kind", "ewma", "--value", "x", "--centre", 10, "--sigma", 1,
             "--lambda", 0.1, "--width", 2.7, "--json"]
    chart, = answered(shell.run(*given))["charts"]
    steady, = answered(shell.run(*given, "--limits", "steady"))["charts"]
    wanted = published["recomputed"]
    assert column(chart, "value") == pytest.approx(wanted["EWMA"], rel=1e-9)
    assert column(chart, "upper") == pytest.approx(wanted["UCL_exact"], rel=1e-9)
    assert column(chart, "lower") == pytest.approx(wanted["LCL_exact"], rel=1e-9)
    assert column(steady, "upper") == pytest.approx([wanted["UCL_asymptotic"]] * 30, rel=1e-9)
    assert signalling(chart) == [29, 30]


def test_an_ewma_of_subgroups_is_labelled_by_them(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"shift": ["late", "late", "early", "early", "late"],
                           "x": [1, 3, 10, 14, 2]})
    answer = answered(shell.run("chart", path, "--kind", "ewma", "--value", "x", "--subgroup",
                               "shift", "--json"))
    chart, = answer["charts"]
    assert column(chart, "label") == ["late", "early"]
    assert column(chart, "at") == [1, 2]
    assert chart["centre"] == pytest.approx(6)
    # lambda 0.2: 6 + 0.2 (2 - 6), then 0.8 times that + 0.2 * 12
    assert column(chart, "value") == pytest.approx([5.2, 6.56])


@pytest.mark.parametrize("sequence", case("runs_rules")["rule_sequences"], ids=lambda s: s["id"])
def test_rules_signal_where_worked_out(shell: Shell, tmp_path: Path, sequence) -> None:
    names = {"N1": "outside_limits", "N2": "one_side", "N3": "trend", "N4": "alternating",
             "N5": "two_of_three", "N6": "four_of_five", "N7": "stratification", "N8": "mixture"}
    path = csv_file(tmp_path, {"z": sequence["z"]})
    main, moving = answered(shell.run(
        "chart", path, "--kind", "individuals", "--value", "z", "--centre", 0, "--sigma", 1,
        "--rules", "nelson", "--json"))["charts"]
    assert {code: signalling(main, name) for code, name in names.items()} == {
        code: sequence["all_rules"][code] for code in names}
    assert {name for point in moving["points"] for name in point["signals"]} <= {"outside_limits"}


def test_patterns_are_not_looked_for_among_points_that_remember(
    shell: Shell, tmp_path: Path
) -> None:
    path = csv_file(tmp_path, {"x": [1, 1, 1, 1, 1, 1, 1, 1, 1, 1, -5, -5]})
    chart, = answered(shell.run("chart", path, "--kind", "ewma", "--value", "x", "--centre", 0,
                               "--sigma", 3, "--rules", "nelson", "--json"))["charts"]
    assert {name for point in chart["points"] for name in point["signals"]} == set()


def test_a_limit_that_does_not_exist_is_null() -> None:
    chart = make_chart("one-sided", 0.0, np.array([1.0, 9.0]), np.nan, 3.0)
    out = StringIO()
    _write_json(FileChart(chart=ControlChart(
        kind="any", source="none", sigma=None, charts=(chart,), baseline=None, cautions=(),
    ), labels=None, file="any.csv", request=ChartRequest(kind="any")), out)
    points = json.loads(out.getvalue())["charts"][0]["points"]
    assert [point["lower"] for point in points] == [None, None]
    assert [point["signals"] for point in points] == [[], ["outside_limits"]]


def test_a_baseline_counts_plotted_points(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"bad": [2, 3, 2, 30], "n": [50] * 4})
    chart, = answered(shell.run("chart", path, "--kind", "p", "--count", "bad", "--size", "n",
                               "--baseline", "1:3", "--json"))["charts"]
    assert chart["centre"] == pytest.approx(7 / 150)
    assert signalling(chart) == [4]


@pytest.mark.parametrize(("kind", "counts", "centre", "upper"), [
    ("np", "np_ishikawa_mirrors", "npbar", "np_UCL"), ("c", "c_nist_wafer_defects", "cbar", "UCL"),
])
def test_counts_of_one_size(shell: Shell, tmp_path: Path, kind, counts, centre, upper) -> None:
    published = case(counts)
    data = dict(published["data"])
    columns = {"k": data.pop("D", None) or data.pop("c")}
    size = ["--size", "n"] if kind == "np" else []
    if size:
        columns["n"] = [data["n"]] * len(columns["k"])
    path = csv_file(tmp_path, columns)
    chart, = answered(shell.run("chart", path, "--kind", kind, "--count", "k", *size,
                               "--json"))["charts"]
    assert chart["centre"] == pytest.approx(published["recomputed"][centre], rel=1e-9)
    assert chart["points"][0]["upper"] == pytest.approx(published["recomputed"][upper], rel=1e-9)


def test_xlsx_and_semicolons_with_decimal_commas_are_equal_to_csv(
    shell: Shell, tmp_path: Path
) -> None:
    import xlsxwriter

    x = [155.5, 154.25, 156, 155.75, 153.5, 155]
    plain = csv_file(tmp_path, {"at": list(range(6)), "x": x})
    comma = csv_file(tmp_path, {"at": list(range(6)), "x": [str(v).replace(".", ",") for v in x]},
                 name="comma.csv", separator=";")
    book = xlsxwriter.Workbook(tmp_path / "data.xlsx")
    sheet = book.add_worksheet("log")
    sheet.write_column(0, 0, ["x", *x])
    book.close()
    answers = [
        answered(shell.run("chart", path, "--kind", "individuals", "--value", "x", "--json"))
        for path in (plain, comma, tmp_path / "data.xlsx")
    ]
    assert answers[0] == answers[1] == answers[2]


def test_a_long_chart_is_written_whole(shell: Shell, tmp_path: Path) -> None:
    n = 20_003  # more than are written at once
    path = csv_file(tmp_path, {"x": [k % 7 for k in range(n)]})
    main, moving = answered(shell.run("chart", path, "--kind", "individuals", "--value", "x",
                                     "--json"))["charts"]
    assert column(main, "value") == [k % 7 for k in range(n)]
    assert column(moving, "at") == list(range(2, n + 1))


def test_labels_are_kept_as_they_are(shell: Shell, tmp_path: Path) -> None:
    labels = ['a "quoted" one', "Größe\\3"]
    path = csv_file(tmp_path, {"g": [f'"{g}"'.replace('"q', '""q').replace('d"', 'd""')
                                 for g in labels], "x": [1, 2]})
    chart, = answered(shell.run("chart", path, "--kind", "ewma", "--value", "x", "--subgroup", "g",
                               "--json"))["charts"]
    assert column(chart, "label") == labels


def test_the_table_for_people(shell: Shell, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    path = csv_file(tmp_path, {"x": [1.0, 1.2, 0.9, 1.1, 1.0, 9.0]})
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x", "--centre", 1,
                        "--sigma", 0.2)
    assert outcome.code == 0
    assert "outside limits" in outcome.out
    assert "ISO 7870-2:2013" in outcome.out
    assert max(map(len, outcome.out.splitlines())) <= 80


def test_cautions_are_said_beside_the_json(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": [1.0, 1.2, 0.9]})
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x", "--json")
    assert "fewer than 20 points" in outcome.err
    answered(outcome)


BAD = [
    (["--kind", "xbar-r", "--value", "x"], "a chart of kind 'xbar-r' needs --subgroup COLUMN"),
    (["--kind", "pie", "--value", "x"], "there is no chart of kind 'pie'; there are: individuals"),
    (["--kind", "p", "--count", "k"], "a chart of kind 'p' needs --size COLUMN"),
    (["--kind", "individuals"], "a chart of kind 'individuals' needs --value COLUMN"),
    (["--kind", "p", "--count", "k", "--size", "n", "--sigma", "1"], "'p' takes no --sigma"),
    (["--kind", "c", "--count", "k", "--lambda", "0.3"], "'c' takes no --lambda"),
    (["--kind", "individuals", "--value", "y"], "there is no column 'y'"),
    (["--kind", "individuals", "--value", "x"], "line 4: x is 'two'"),
    (["--kind", "individuals", "--value", "blank"], "line 3: blank is blank"),
    (["--kind", "individuals", "--value", "huge"], "line 2: huge is 'inf'"),
    (["--kind", "ewma", "--value", "n", "--subgroup", "blank"], "line 3: blank is blank"),
    (["--kind", "p", "--count", "n", "--size", "k"], "column 'n' is 9 in line 2; allowed: 0 to"),
    (["--kind", "p", "--count", "half", "--size", "n"], "column 'half' is 0.5 in line 2; allowed"),
    (["--kind", "u", "--count", "k", "--size", "zero"], "column 'zero' is 0 in line 3; allowed: n"),
    (["--kind", "ewma", "--value", "n", "--lambda", "2"], "--lambda is 2; it must be inside"),
    (["--kind", "ewma", "--value", "n", "--width", "0"], "--width is 0; it must be a finite"),
    (["--kind", "ewma", "--value", "n", "--limits", "wide"], "--limits is 'wide'; allowed: exact"),
    (["--kind", "individuals", "--value", "n", "--sigma", "0"], "--sigma is 0; it must be a fini"),
    (["--kind", "individuals", "--value", "n", "--rules", "all"], "--rules is 'all'; allowed: lim"),
    (["--kind", "ewma", "--value", "n", "--rules", "all"], "--rules is 'all'; allowed: limits, we"),
    (["--kind", "individuals", "--value", "n", "--baseline", "2:9"], "--baseline is 2:9; it must"),
    (["--kind", "individuals", "--value", "n", "--baseline", "2"], "--baseline is '2'; write fir"),
    (["--kind", "individuals", "--value", "n", "--colour", "red"], "does not know '--colour'"),
]


@pytest.mark.parametrize(("arguments", "message"), BAD)
def test_wrong_use_is_one_clear_line(
    shell: Shell, tmp_path: Path, arguments: list[str], message: str
) -> None:
    path = csv_file(tmp_path, {
        "x": ["1.5", "2.5", "two"], "k": [1, 2, 3], "n": [9, 9, 9], "blank": ["1", "", "3"],
        "huge": ["inf", "1", "2"], "half": [0.5, 1, 2], "zero": [1, 0, 2],
    })
    outcome = shell.run("chart", path, *arguments, "--json")
    assert outcome.code == 2
    assert message in outcome.err
    assert len(outcome.err.splitlines()) == 1
    assert outcome.out == ""


@pytest.mark.parametrize(("content", "name"), [
    (b"", "empty.csv"), (b"x\n", "head.csv"), (b"\x00\x01\x02\xff" * 50, "binary.csv"),
])
def test_files_that_are_no_tables_are_one_clear_line(
    shell: Shell, tmp_path: Path, content: bytes, name: str
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x")
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1


def test_a_file_that_is_not_there(shell: Shell, tmp_path: Path) -> None:
    outcome = shell.run("chart", tmp_path / "none.csv", "--kind", "p", "--count", "a",
                        "--size", "b")
    assert outcome.code == 2
    assert "none.csv" in outcome.err
    assert len(outcome.err.splitlines()) == 1


def test_what_the_limits_come_from_is_on_record(shell: Shell, tmp_path: Path) -> None:
    x = [10, 11, 10, 12, 11, 40, 10, 11, 12, 10, 11, 19, 20, 21, 20, 22]
    path = csv_file(tmp_path, {"x": x})
    asked = ("chart", path, "--kind", "individuals", "--value", "x", "--baseline", "1:10",
             "--exclude", "6=clamp slipped")
    answer = answered(shell.run(*asked, "--json"))
    assert answer["baseline"] == {
        "first": 1, "last": 10, "excluded": [{"at": 6, "reason": "clamp slipped"}]}
    assert answer["change"] == {"at": 12, "between": [12, 12]}
    assert any("fewer than 20 points" in sentence for sentence in answer["cautions"])
    assert "limits come from points 1 to 10, without 6 (clamp slipped)" in shell.run(*asked).out
    known = answered(shell.run("chart", path, "--kind", "individuals", "--value", "x",
                               "--centre", "11", "--sigma", "1", "--json"))
    assert known["baseline"] is None


@pytest.mark.parametrize("lines", ["x\n5\n6\n\n7\n8\n", "x\r\n5\r\n\r\n6\r\n"])
def test_an_empty_line_in_a_table_of_one_column_is_a_blank_cell(
    shell: Shell, tmp_path: Path, lines: str
) -> None:
    path = tmp_path / "one.csv"
    path.write_bytes(lines.encode())
    outcome = shell.run("chart", str(path), "--kind", "individuals", "--value", "x")
    assert outcome.code == 2
    assert "x is blank; every row needs a number" in outcome.err
    path.write_bytes(b"x\n5\n6\n7\n\n\n")
    assert shell.run("chart", str(path), "--kind", "individuals", "--value", "x").code == 0


@pytest.mark.parametrize("option", ["--centre", "--sigma", "--width"])
@pytest.mark.parametrize("value", ["1e308", "inf", "nan"])
def test_an_option_is_no_larger_than_a_cell_may_be(
    shell: Shell, tmp_path: Path, option: str, value: str
) -> None:
    path = csv_file(tmp_path, {"x": [1, 2, 3, 4]})
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x", option, value)
    assert outcome.code == 2
    assert len(outcome.err.splitlines()) == 1
    assert f"{option} is " in outcome.err and "at most 1e+15" in outcome.err


def test_a_cell_too_large_is_said_to_be_that(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": [1, 2, "1e300"]})
    said = shell.run("chart", path, "--kind", "individuals", "--value", "x")
    assert said.code == 2 and "x is '1e300', beyond 1e+15" in said.err


def test_a_point_a_tenth_of_sigma_beyond_a_limit_signals_at_any_offset(
    shell: Shell, tmp_path: Path
) -> None:
    path = csv_file(tmp_path, {"x": [1e9, 1e9 + 3.1e-3, 1e9 - 3.1e-3]})
    answer = answered(shell.run("chart", path, "--kind", "individuals", "--value", "x",
                                "--centre", "1e9", "--sigma", "0.001", "--json"))
    assert [bool(p["signals"]) for p in answer["charts"][0]["points"]] == [False, True, True]


def test_where_neighbours_are_alike_what_each_adds_can_be_charted(
    shell: Shell, tmp_path: Path
) -> None:
    rng = np.random.default_rng(6)
    x = [0.0]
    for _ in range(119):
        x.append(0.7 * x[-1] + rng.normal())
    x[100] += 8
    asked = ("chart", csv_file(tmp_path, {"x": x}), "--kind", "individuals", "--value", "x",
             "--baseline", "1:90", "--json")
    plain, freed = answered(shell.run(*asked)), answered(shell.run(*asked, "--independent"))
    assert any("neighbouring points are alike" in words for words in plain["cautions"])
    assert not any("neighbouring points are alike" in words for words in freed["cautions"])
    points = freed["charts"][0]["points"]
    assert (len(points), points[0]["label"], points[-1]["label"]) == (119, "2", "120")
    signalled = [point["label"] for point in points if point["signals"]]
    assert "101" in signalled
    assert len(signalled) < sum(bool(p["signals"]) for p in plain["charts"][0]["points"])


def test_independent_parts_are_of_single_values_of_a_few_kinds(
    shell: Shell, tmp_path: Path
) -> None:
    path = csv_file(tmp_path, {"x": [1, 2, 3, 5], "s": ["a", "a", "b", "b"]})
    for more, words in [(("--kind", "ewma", "--value", "x", "--subgroup", "s"),
                         "--independent is for single values"),
                        (("--kind", "t", "--value", "x"), "takes no --independent"),
                        (("--kind", "individuals", "--value", "x", "--baseline", "1:2"),
                         "baseline has 3 points; likeness of neighbours needs at least 4")]:
        outcome = shell.run("chart", path, *more, "--independent")
        assert outcome.code == 2 and words in outcome.err
