"""Limits as asked: for a wanted run length, by probability, with a baseline that is judged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from tests.cli.chart_made import answered, column, csv_file, signalling
from tests.cli.running import Shell
from tests.published import case


@pytest.fixture
def steady(tmp_path: Path) -> Path:
    """Forty steady values, counts of samples of one size and of many, subgroups of four."""
    generator = np.random.default_rng(11)
    return csv_file(tmp_path, {
        "x": generator.normal(10, 1, 40).round(4).tolist(),
        "y": generator.normal(5, 2, 40).round(4).tolist(),
        "k": generator.binomial(100, 0.08, 40).tolist(), "n": [100] * 40,
        "many": generator.integers(80, 120, 40).tolist(),
        "hours": generator.exponential(30, 40).round(3).tolist(),
        "g": [k // 4 for k in range(40)],
    })


def _reach(shell: Shell, path: Path, *arguments: object) -> tuple[float, float, str]:
    """Centre and upper limit of the first chart's last point, and what is said."""
    outcome = shell.run("chart", path, "--kind", *arguments, "--json")
    chart = answered(outcome)["charts"][0]
    return chart["centre"], chart["points"][-1]["upper"], outcome.err


@pytest.mark.parametrize("kind", [["individuals"], ["xbar-r", "--subgroup", "g"],
                                  ["xbar-s", "--subgroup", "g"]])
def test_the_width_for_a_run_length_is_that_of_the_normal_law(shell: Shell, steady: Path, kind
                                                              ) -> None:
    known = ["--value", "x", "--centre", 10, "--sigma", 1, "--for-arl", 500]
    centre, upper, said = _reach(shell, steady, *kind, *known)
    error = 1 if kind == ["individuals"] else 0.5
    assert (upper - centre) / error == pytest.approx(stats.norm.isf(1 / 1000), rel=1e-9)
    assert "one false signal in 500 points on average" in said


def test_rules_make_wider_limits_for_the_same_run_length(shell: Shell, steady: Path) -> None:
    given = ["individuals", "--value", "x", "--centre", 10, "--sigma", 1, "--for-arl", 91.75]
    # Champ & Woodall (1987), Technometrics 29, table 1: 91.75 with the four rules at width 3
    centre, upper, _ = _reach(shell, steady, *given, "--rules", "western-electric")
    assert upper - centre == pytest.approx(3, abs=5e-3)


def test_an_ewma_and_a_cusum_take_the_limit_of_printed_designs(shell: Shell, steady: Path) -> None:
    given = ["--value", "x", "--centre", 10, "--sigma", 1]
    # Lucas & Saccucci (1990), Technometrics 32, table 3: width 2.998 at lambda 0.25 for 500
    centre, upper, _ = _reach(shell, steady, "ewma", *given, "--limits", "steady", "--lambda",
                              0.25, "--for-arl", 500)
    assert (upper - centre) / np.sqrt(0.25 / 1.75) == pytest.approx(2.998, abs=2e-3)
    # Lucas & Crosier (1982), Technometrics 24: h = 5, k = 0.5 has 465 in control, both sides
    _, decision, _ = _reach(shell, steady, "cusum", *given, "--for-arl", 465.44)
    assert decision == pytest.approx(5, abs=1e-3)


def test_counts_of_one_size_by_their_exact_run_length(shell: Shell, steady: Path) -> None:
    outcome = shell.run("chart", steady, "--kind", "np", "--count", "k", "--size", "n",
                        "--centre", 8, "--for-arl", 300, "--json")
    point = answered(outcome)["charts"][0]["points"][0]
    law = stats.binom(100, 0.08)
    beyond = law.cdf(np.ceil(point["lower"]) - 1) + law.sf(np.floor(point["upper"]))
    assert 1 / beyond >= 300
    # the next count nearer on the upper side would signal too often, or is balanced below
    nearer = law.cdf(np.ceil(point["lower"])) + law.sf(np.floor(point["upper"]) - 1)
    assert 1 / nearer < 300
    assert "at most one false signal in 300 points" in outcome.err


def test_counts_of_many_sizes_point_by_point(shell: Shell, steady: Path) -> None:
    outcome = shell.run("chart", steady, "--kind", "p", "--count", "k", "--size", "many",
                        "--centre", 0.08, "--for-arl", 200, "--json")
    chart = answered(outcome)["charts"][0]
    sizes = [int(line.split(",")[4]) for line in steady.read_text().splitlines()[1:]]
    for point, size in zip(chart["points"], sizes, strict=True):
        law = stats.binom(size, 0.08)
        assert law.sf(np.floor(point["upper"] * size + 1e-9)) <= 0.0025
        assert law.cdf(np.ceil(point["lower"] * size - 1e-9) - 1) <= 0.0025
    assert "samples differ in size" in outcome.err


def test_times_by_the_exponential_law(shell: Shell, steady: Path) -> None:
    outcome = shell.run("chart", steady, "--kind", "t", "--value", "hours", "--centre", 30,
                        "--for-arl", 100, "--json")
    point = answered(outcome)["charts"][0]["points"][0]
    law = stats.expon(scale=30)
    assert law.cdf(point["lower"]) + law.sf(point["upper"]) == pytest.approx(0.01, rel=1e-6)


def test_a_t2_takes_its_chance(shell: Shell, steady: Path) -> None:
    given = ["chart", steady, "--kind", "t2", "--values", "x,y", "--json"]
    one = answered(shell.run(*given, "--for-arl", 100))
    assert one["charts"] == answered(shell.run(*given, "--alpha", 0.01))["charts"]


@pytest.mark.parametrize(("kind", "option", "value"), [
    ("individuals", "width", 3), ("ewma", "width", 3), ("cusum", "decision", 5),
    ("t2", "alpha", 0.01), ("mewma", "decision", 9),
])
def test_a_limit_and_a_run_length_are_one_too_many(shell: Shell, steady: Path, kind, option,
                                                   value) -> None:
    column_of = ["--values", "x,y"] if kind in ("t2", "mewma") else ["--value", "x"]
    outcome = shell.run("chart", steady, "--kind", kind, *column_of, f"--{option}", value,
                        "--for-arl", 300)
    assert outcome.code == 2
    assert f"--for-arl sets what --{option} sets; give one of the two" in outcome.err


@pytest.mark.parametrize(("arl", "words"), [
    ("1", "--for-arl is 1; it must be a number of points above 1"),
    ("nan", "--for-arl is nan; it must be"), ("inf", "--for-arl is inf; it must be"),
])
def test_run_lengths_that_cannot_be(shell: Shell, steady: Path, arl: str, words: str) -> None:
    outcome = shell.run("chart", steady, "--kind", "individuals", "--value", "x", "--for-arl", arl)
    assert (outcome.code, len(outcome.err.splitlines())) == (2, 1)
    assert words in outcome.err


def test_rules_that_signal_sooner_by_themselves_are_said(shell: Shell, steady: Path) -> None:
    outcome = shell.run("chart", steady, "--kind", "individuals", "--value", "x", "--rules",
                        "nelson", "--for-arl", 500)
    assert outcome.code == 2
    assert "--for-arl is 500; with these rules it is below" in outcome.err


def test_probability_limits_cut_the_tails_of_the_count(shell: Shell, steady: Path) -> None:
    chart, = answered(shell.run("chart", steady, "--kind", "c", "--count", "k", "--centre", 8,
                                "--limits", "probability", "--alpha", 0.01, "--json"))["charts"]
    law, point = stats.poisson(8), chart["points"][0]
    assert law.sf(np.floor(point["upper"])) <= 0.005 < law.sf(np.floor(point["upper"]) - 1)
    assert law.cdf(np.ceil(point["lower"]) - 1) <= 0.005


def test_rules_by_name(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": [0.1] * 9 + [0.5, -0.5]})
    main = answered(shell.run("chart", path, "--kind", "individuals", "--value", "x", "--centre",
                              0, "--sigma", 1, "--rules", "one_side", "--json"))["charts"][0]
    assert {name for point in main["points"] for name in point["signals"]} == {"one_side"}


@pytest.mark.parametrize("kind", ["ewma", "cusum"])
def test_rules_for_a_chart_that_remembers_are_said_to_be_left_out(shell: Shell, steady: Path,
                                                                  kind: str) -> None:
    outcome = shell.run("chart", steady, "--kind", kind, "--value", "x", "--rules", "nelson")
    assert outcome.code == 0
    assert "only its limits were looked at" in outcome.err


def test_a_baseline_whose_level_moved_is_said(shell: Shell, tmp_path: Path) -> None:
    generator = np.random.default_rng(3)
    x = np.r_[generator.normal(10, 1, 40), generator.normal(12, 1, 40)]
    path = csv_file(tmp_path, {"x": x.tolist()})
    for kind in ("individuals", "ewma", "cusum"):
        said = shell.run("chart", path, "--kind", kind, "--value", "x").err
        assert "the level moved inside the points the limits come from" in said
        assert said.count("\n") == len({*said.splitlines()})  # each said once
    first = shell.run("chart", path, "--kind", "individuals", "--value", "x", "--baseline", "1:40")
    assert "the level moved" not in first.err
    assert "the change most likely began at 4" in first.out


def test_neighbours_that_are_alike_are_said(shell: Shell, tmp_path: Path) -> None:
    generator = np.random.default_rng(3)
    path = csv_file(tmp_path, {"x": np.cumsum(generator.normal(size=80)).tolist()})
    assert "neighbouring points are alike" in shell.run(
        "chart", path, "--kind", "ewma", "--value", "x").err


@pytest.mark.parametrize(("kind", "arguments", "at"), [
    ("p", ["--count", "k", "--size", "n"], 31), ("np", ["--count", "k", "--size", "n"], 31),
    ("u", ["--count", "k", "--size", "n"], 31), ("c", ["--count", "k"], 31),
    ("individuals", ["--value", "x"], 31), ("xbar-r", ["--value", "x", "--subgroup", "g"], "g15"),
    ("ewma", ["--value", "x"], 31),
])
def test_a_change_is_dated(shell: Shell, tmp_path: Path, kind, arguments, at) -> None:
    path = csv_file(tmp_path, {
        "k": [4, 6] * 15 + [24, 26] * 5, "n": [100] * 40,
        "x": [9.5, 10.5] * 15 + [14.5, 15.5] * 5, "g": [f"g{k // 2}" for k in range(40)],
    })
    base = "1:15" if kind == "xbar-r" else "1:30"
    outcome = shell.run("chart", path, "--kind", kind, *arguments, "--baseline", base)
    assert f"the change most likely began at {at} (90 % sure)" in outcome.out


def test_a_cusum_dates_a_change_by_its_counter(shell: Shell, tmp_path: Path) -> None:
    published = case("cusum_montgomery_30")
    path = csv_file(tmp_path, {"x": published["data"]["x"]})
    outcome = shell.run("chart", path, "--kind", "cusum", "--value", "x", "--centre", 10,
                        "--sigma", 1)
    last_before = published["signals"]["counter_estimate_of_last_in_control_point"]
    assert f"the change most likely began at {last_before + 1}\n" in outcome.out


def test_a_change_is_not_dated_where_limits_come_from_both_levels(shell: Shell, tmp_path: Path
                                                                  ) -> None:
    path = csv_file(tmp_path, {"x": [9.5, 10.5] * 15 + [29.5, 30.5] * 5})
    outcome = shell.run("chart", path, "--kind", "individuals", "--value", "x")
    assert "the change most likely began" not in outcome.out


def test_a_wider_band_signals_less(shell: Shell, steady: Path) -> None:
    given = ["chart", steady, "--kind", "individuals", "--value", "x", "--json"]
    narrow = answered(shell.run(*given, "--width", 1))["charts"][0]
    wide = answered(shell.run(*given, "--width", 6))["charts"][0]
    assert len(signalling(narrow)) > len(signalling(wide)) == 0
    assert column(narrow, "value") == column(wide, "value")
