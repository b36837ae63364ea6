"""Every kind of chart from a file, against the published or recomputed values of its case."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import stats

from tests.cli.chart_made import answered, column, csv_file, signalling
from tests.cli.running import Shell
from tests.published import case


def _subgroups(case_id: str) -> dict[str, list[Any]]:
    rows = case(case_id)["data"]["subgroups"]
    return {"x": [x for row in rows for x in row],
            "hour": [f"h{k}" for k, row in enumerate(rows) for _ in row]}


def _ends(chart: dict[str, Any]) -> tuple[float, float]:
    """The limits of a chart whose limits are the same at every point."""
    lower, upper = column(chart, "lower"), column(chart, "upper")
    assert len({*lower}) == len({*upper}) == 1
    return lower[0], upper[0]


@pytest.mark.parametrize(("kind", "letter", "spread"), [
    ("xbar-r", "R", "range"), ("xbar-s", "S", "standard deviation"),
])
@pytest.mark.parametrize("case_id", [
    "xbar_r_s_vane_opening", "xbar_r_s_ishikawa_p66", "xbar_r_s_wafer_thickness",
])
def test_means_and_what_varies_within(shell: Shell, tmp_path: Path, kind, letter, spread,
                                      case_id) -> None:
    published = case(case_id)
    path = csv_file(tmp_path, _subgroups(case_id))
    answer = answered(shell.run("chart", path, "--kind", kind, "--value", "x", "--subgroup",
                                "hour", "--json"))
    wanted, (means, within) = published["recomputed"], answer["charts"]
    assert (means["name"], within["name"]) == ("mean", spread)
    assert answer["sigma"] == pytest.approx(wanted[f"sigma_hat_{letter}"], rel=1e-9)
    assert means["centre"] == pytest.approx(wanted["xbarbar"], rel=1e-9)
    assert _ends(means) == pytest.approx(
        (wanted[f"xbar_LCL_{letter}"], wanted[f"xbar_UCL_{letter}"]), rel=1e-9)
    assert _ends(within) == pytest.approx(
        (wanted[f"{letter}_LCL"], wanted[f"{letter}_UCL"]), rel=1e-9)
    assert column(means, "value") == pytest.approx(wanted["subgroup_mean"], rel=1e-9)
    assert column(means, "label")[:2] == ["h0", "h1"]
    assert signalling(means) == published["signals"][f"xbar_beyond_limits_{letter}"]
    assert signalling(within) == published["signals"][f"{letter}_beyond_limits"]


def test_limits_without_points_whose_cause_was_found(shell: Shell, tmp_path: Path) -> None:
    wanted = case("xbar_r_s_vane_opening")["recomputed"]
    path = csv_file(tmp_path, _subgroups("xbar_r_s_vane_opening"))
    leave = [word for at in (6, 8, 9, 11, 19) for word in ("--exclude", f"{at}=wrong setting")]
    answer = answered(shell.run("chart", path, "--kind", "xbar-r", "--value", "x", "--subgroup",
                                "hour", *leave, "--json"))
    means, ranges = answer["charts"]
    assert _ends(means) == pytest.approx(
        (wanted["revised_xbar_LCL_R"], wanted["revised_xbar_UCL_R"]), rel=1e-9)
    assert ranges["points"][0]["upper"] == pytest.approx(wanted["revised_R_UCL"], rel=1e-9)
    assert len(means["points"]) == 20  # left out of the limits, not of the chart


def test_subgroups_of_many_sizes_have_a_centre_of_their_own(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": [1, 2, 3, 4, 9, 5, 7], "g": list("aabbbcc")})
    _, ranges = answered(shell.run("chart", path, "--kind", "xbar-r", "--value", "x",
                                   "--subgroup", "g", "--json"))["charts"]
    assert ranges["centre"] is None
    # d2 of 2 and 3 values, from Tippett (1925)
    centres = column(ranges, "centre")
    assert centres[0] == centres[2]
    assert centres[1] / centres[0] == pytest.approx(1.6925687506 / 1.1283791671, rel=1e-9)


@pytest.mark.parametrize("kind", ["p-prime", "u-prime"])
def test_counts_that_scatter_more_than_chance_allows(shell: Shell, tmp_path: Path, kind) -> None:
    generator = np.random.default_rng(5)
    n = generator.integers(4000, 9000, 40)
    k = generator.binomial(n, generator.normal(0.05, 0.01, 40))
    path = csv_file(tmp_path, {"k": k.tolist(), "n": n.tolist()})
    answer = answered(shell.run("chart", path, "--kind", kind, "--count", "k", "--size", "n",
                                "--json"))
    centre = k.sum() / n.sum()
    error = np.sqrt(centre * (1 - centre) / n) if kind == "p-prime" else np.sqrt(centre / n)
    z = (k / n - centre) / error
    sigma_z = np.abs(np.diff(z)).mean() * np.sqrt(np.pi) / 2  # d2 of 2 is 2 / sqrt(pi)
    assert answer["sigma"] == pytest.approx(sigma_z, rel=1e-3)  # the source rounds d2 to 1.128
    upper = column(answer["charts"][0], "upper")
    assert upper == pytest.approx(centre + 3 * answer["sigma"] * error, rel=1e-9)


def test_units_between_rare_events(shell: Shell, tmp_path: Path) -> None:
    published = case("rare_events_g_chart_constructed")
    path = csv_file(tmp_path, {"good": published["data"]["x"]})
    chart, = answered(shell.run("chart", path, "--kind", "g", "--count", "good", "--json"))[
        "charts"]
    wanted = published["recomputed"]["zero_based"]
    assert chart["centre"] == pytest.approx(wanted["mean"], rel=1e-9)
    assert _ends(chart) == pytest.approx((0, wanted["UCL"]), rel=1e-9)
    assert signalling(chart) == published["signals"]["zero_based_3sigma"]


def test_time_between_rare_events(shell: Shell, tmp_path: Path) -> None:
    published = case("rare_events_t_constructed")
    path = csv_file(tmp_path, {"hours": published["data"]["x"]})
    chart = answered(shell.run("chart", path, "--kind", "t", "--value", "hours", "--json"))[
        "charts"][0]
    wanted = published["recomputed"]
    assert column(chart, "value") == published["data"]["x"]
    assert _ends(chart) == pytest.approx((0, wanted["X_UCL"] ** 3.6), rel=1e-8)
    assert chart["centre"] == pytest.approx(wanted["mean"] ** 3.6, rel=1e-8)


@pytest.mark.parametrize(("head_start", "suffix"), [(None, ""), (2.5, "_FIR_2.5")])
def test_cumulative_sums(shell: Shell, tmp_path: Path, head_start, suffix) -> None:
    published = case("cusum_montgomery_30")
    path = csv_file(tmp_path, {"x": published["data"]["x"]})
    given = ["--centre", 10, "--sigma", 1]
    given += [] if head_start is None else ["--head-start", head_start]
    upper, lower = answered(shell.run("chart", path, "--kind", "cusum", "--value", "x", *given,
                                      "--json"))["charts"]
    wanted = published["recomputed"]
    assert column(upper, "value") == pytest.approx(wanted[f"S_hi{suffix}"], abs=1e-9)
    assert column(lower, "value") == pytest.approx(wanted[f"S_lo{suffix}"], abs=1e-9)
    assert {*column(upper, "upper")} == {5}
    assert {*column(upper, "lower")} == {*column(lower, "lower")} == {None}
    assert signalling(upper) == published["signals"]["S_hi_above_H"]


def test_several_values_at_once(shell: Shell, tmp_path: Path) -> None:
    published = case("t2_ryan_20_subgroups_of_4")
    rows = [(k, *pair) for k, group in enumerate(published["data"]["subgroups_x1_x2"])
            for pair in group]
    path = csv_file(tmp_path, dict(zip(("g", "a", "b"), map(list, zip(*rows, strict=True)),
                                       strict=True)))
    chart, = answered(shell.run("chart", path, "--kind", "t2", "--values", "a,b", "--subgroup",
                                "g", "--alpha", 0.0054, "--json"))["charts"]
    wanted = published["recomputed"]
    assert column(chart, "value") == pytest.approx(wanted["T2"], rel=1e-8)
    assert column(chart, "upper") == pytest.approx([wanted["UCL_phase1_alpha_0p0054"]] * 20)
    assert {*column(chart, "lower")} == {None}
    assert signalling(chart) == published["signals"]["beyond_phase1"]


def test_the_variable_that_stands_out_is_named(shell: Shell, tmp_path: Path) -> None:
    generator = np.random.default_rng(3)
    rows = generator.normal(size=(40, 2))
    rows[30] = (0.5, 9.0)
    path = csv_file(tmp_path, {"dx_mm": rows[:, 0].tolist(), "dy_mm": rows[:, 1].tolist()})
    outcome = shell.run("chart", path, "--kind", "t2", "--values", "dx_mm,dy_mm")
    assert outcome.code == 0
    assert "31: dy_mm is off by" in outcome.out
    assert "dx_mm is off" not in outcome.out


def test_several_moving_averages_at_once(shell: Shell, tmp_path: Path) -> None:
    generator = np.random.default_rng(8)
    x = generator.normal(size=(60, 2))
    path = csv_file(tmp_path, {"a": x[:, 0].tolist(), "b": x[:, 1].tolist()})
    chart, = answered(shell.run("chart", path, "--kind", "mewma", "--values", "a,b", "--lambda",
                                0.2, "--for-arl", 200, "--json"))["charts"]
    # Prabhu & Runger (1997), J. Quality Technology 29, table 1: h = 9.65 for p = 2, lambda 0.2;
    # theirs are steady limits by a coarse chain, ours exact ones
    assert chart["points"][0]["upper"] == pytest.approx(9.65, abs=0.15)


def test_deviations_from_nominal(shell: Shell, tmp_path: Path) -> None:
    published = case("short_run_dnom_constructed")
    data = published["data"]
    columns = {
        "x": [x for row in data["x"] for x in row],
        "run": [k for k, row in enumerate(data["x"]) for _ in row],
        "part": [part for part, row in zip(data["part"], data["x"], strict=True) for _ in row],
    }
    columns["nominal"] = [data["nominal"][part] for part in columns["part"]]
    path = csv_file(tmp_path, columns)
    means, ranges = answered(shell.run(
        "chart", path, "--kind", "deviation", "--value", "x", "--nominal", "nominal",
        "--subgroup", "run", "--part", "part", "--json"))["charts"]
    wanted = published["recomputed"]
    assert _ends(means) == pytest.approx((wanted["xbar_LCL_R"], wanted["xbar_UCL_R"]), rel=1e-8)
    assert ranges["points"][0]["upper"] == pytest.approx(wanted["R_UCL"], rel=1e-8)
    assert column(means, "value") == pytest.approx(wanted["subgroup_mean"], abs=1e-9)


@pytest.mark.parametrize(("given", "name"), [
    ([], "UU"), (["--centre", 10], "KU"), (["--sigma", 0.3], "UK"),
    (["--centre", 10, "--sigma", 0.3], "KK"),
])
def test_q_statistics(shell: Shell, tmp_path: Path, given, name) -> None:
    published = case("short_run_q_chart_normal")
    path = csv_file(tmp_path, {"x": published["data"]["x"]})
    chart, = answered(shell.run("chart", path, "--kind", "q", "--value", "x", *given, "--json"))[
        "charts"]
    wanted = [q for q in published["recomputed"][name] if q is not None]
    assert column(chart, "value") == pytest.approx(wanted, rel=1e-8)
    assert column(chart, "at")[0] == 11 - len(wanted)
    assert _ends(chart) == (-3, 3)


def test_q_statistics_of_counts_against_a_library(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"k": [1, 0, 3, 2, 7], "n": [20, 30, 25, 20, 25]})
    shares = answered(shell.run("chart", path, "--kind", "q-p", "--count", "k", "--size", "n",
                                "--centre", 0.1, "--json"))["charts"][0]
    rates = answered(shell.run("chart", path, "--kind", "q-u", "--count", "k", "--size", "n",
                               "--centre", 0.1, "--json"))["charts"][0]
    k, n = np.array([1, 0, 3, 2, 7]), np.array([20, 30, 25, 20, 25])
    for chart, law in ((shares, stats.binom(n, 0.1)), (rates, stats.poisson(0.1 * n))):
        middle = law.cdf(k) - law.pmf(k) / 2
        assert column(chart, "value") == pytest.approx(stats.norm.ppf(middle).tolist(), rel=1e-9)


def test_a_part_without_a_value_yet_is_null(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": [1, 2, 4, 50, 51, 54, 3], "part": list("aaabbba")})
    chart, = answered(shell.run("chart", path, "--kind", "q", "--value", "x", "--part", "part",
                                "--json"))["charts"]
    assert column(chart, "at") == [3, 4, 5, 6, 7]
    assert [value is None for value in column(chart, "value")] == [False, True, True, False, False]


def test_standardised_values_of_known_parts(shell: Shell, tmp_path: Path) -> None:
    path = csv_file(tmp_path, {"x": [10.2, 52, 9.8, 48], "nominal": [10, 50, 10, 50],
                               "s": [0.1, 1, 0.1, 1]})
    chart = answered(shell.run("chart", path, "--kind", "standardised", "--value", "x",
                               "--nominal", "nominal", "--spread", "s", "--json"))["charts"][0]
    assert column(chart, "value") == pytest.approx([2, 2, -2, -2])
    assert _ends(chart) == (-3, 3)
