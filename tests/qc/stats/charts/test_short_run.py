from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import Caution
from qc.stats.charts.constants import c4, d2, d3
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.short_run import deviation_chart, standardised_chart
from qc.stats.charts.subgroup_means import xbar_r_chart
from tests.published import case
from tests.reference.short_run import part_levels

DNOM = case("short_run_dnom_constructed")
X = np.array(DNOM["data"]["x"])
PART = np.repeat(DNOM["data"]["part"], 3)
NOMINAL = np.array([DNOM["data"]["nominal"][part] for part in PART])
SUBGROUP = np.repeat(np.arange(10), 3)


@pytest.mark.parametrize(("within", "letter", "spread"),
                         [("range", "R", "Rbar"), ("standard deviation", "S", "sbar")])
def test_deviations_as_recomputed_to_ten_digits(within: str, letter: str, spread: str) -> None:
    chart = deviation_chart(X.ravel(), NOMINAL, subgroup=SUBGROUP, part=PART, within=within)
    main, beside = chart.charts
    found = {
        "xbarbar": main.centre, spread: beside.centre, f"sigma_hat_{letter}": chart.sigma,
        f"xbar_UCL_{letter}": main.upper[0], f"xbar_LCL_{letter}": main.lower[0],
        f"{letter}_UCL": beside.upper[0], f"{letter}_LCL": beside.lower[0],
    }
    wanted = DNOM["recomputed"]
    assert found == pytest.approx({name: wanted[name] for name in found}, rel=1e-9)
    np.testing.assert_allclose(main.value, wanted["subgroup_mean"], rtol=1e-9)
    np.testing.assert_allclose(
        beside.value, wanted["subgroup_range" if letter == "R" else "subgroup_sd"], rtol=1e-9)
    assert main.signalled().tolist() == DNOM["signals"][f"xbar_beyond_limits_{letter}"]
    assert beside.signalled().tolist() == DNOM["signals"][f"{letter}_beyond_limits"]
    assert (main.name, beside.name) == ("mean deviation from nominal", within)
    assert chart.cautions == (Caution.TOO_FEW_POINTS,)


def test_deviations_of_single_values_are_a_chart_of_the_differences() -> None:
    chart = deviation_chart(X.ravel(), NOMINAL, rules="nelson")
    plain = individuals_chart(np.ravel(DNOM["recomputed"]["deviations"]), rules="nelson")
    for ours, theirs in zip(chart.charts, plain.charts, strict=True):
        for field in ("value", "lower", "upper"):
            np.testing.assert_allclose(getattr(ours, field), getattr(theirs, field), atol=1e-12)
        np.testing.assert_array_equal(ours.signals, theirs.signals)
    assert [part.name for part in chart.charts] == ["deviation from nominal", "moving range"]
    assert chart.kind == "deviation"
    assert "Nelson" in chart.source


def test_one_nominal_for_all_moves_the_chart_and_nothing_else() -> None:
    x = np.random.default_rng(3).normal(180, 2, 40)
    chart, plain = deviation_chart(x, 180), individuals_chart(x)
    assert chart.charts[0].upper[0] == pytest.approx(plain.charts[0].upper[0] - 180)
    assert chart.sigma == pytest.approx(plain.sigma)


def test_parts_that_vary_unlike_are_said_to() -> None:
    rng = np.random.default_rng(5)
    part = np.tile(list("AAAABBBB"), 15)
    deviation = rng.normal(size=120)
    uneven = np.where(part == "A", 1, 3) * deviation
    subgroup = np.arange(120) // 4
    for chosen, said in [(deviation, False), (uneven, True)]:
        for groups in (None, subgroup):
            chart = deviation_chart(chosen, 0, part=part, subgroup=groups)
            assert (Caution.UNEQUAL_SPREADS in chart.cautions) is said
    assert Caution.UNEQUAL_SPREADS not in deviation_chart(uneven, 0).cautions


def test_spreads_are_compared_as_bartlett_did() -> None:
    # single values about their part's mean; subgroups about their own means, pooled by part
    rng = np.random.default_rng(8)
    part, seen = np.repeat(list("ABC"), [4, 7, 9]), set()
    for scale in np.linspace(1, 4, 150):
        x = rng.normal(0, np.where(part == "B", scale, 1))
        wanted = stats.bartlett(*(x[part == name] for name in "ABC")).pvalue < 0.01
        assert (Caution.UNEQUAL_SPREADS in deviation_chart(x, 0, part=part).cautions) == wanted
        grouped = deviation_chart(x, 0, part=part, subgroup=part)
        assert (Caution.UNEQUAL_SPREADS in grouped.cautions) == wanted
        seen.add(bool(wanted))
    assert seen == {True, False}


def test_spreads_that_are_alike_are_rarely_called_unlike() -> None:
    # 1 in 100 by design; 400 runs give 4 on average and more than 12 once in 2000 times
    rng = np.random.default_rng(6)
    part = np.repeat(list("ABCD"), [5, 8, 12, 20])
    charts = (deviation_chart(rng.normal(size=45), 0, part=part) for _ in range(400))
    assert sum(Caution.UNEQUAL_SPREADS in chart.cautions for chart in charts) <= 12


def test_a_part_read_too_coarsely_says_nothing_of_its_spread() -> None:
    x = np.r_[np.zeros(3), np.random.default_rng(1).normal(size=30)]
    chart = deviation_chart(x, 0, part=["A"] * 3 + ["B"] * 30)
    assert Caution.UNEQUAL_SPREADS not in chart.cautions


@pytest.mark.parametrize("seed", range(4))
def test_standardised_values_agree_with_a_plain_loop(seed: int) -> None:
    rng = np.random.default_rng(seed)
    part = rng.choice(["A", "B", "C"], 90)
    level, spread = {"A": 10, "B": 300, "C": -4}, {"A": 1, "B": 20, "C": 0.2}
    x = np.array([rng.normal(level[p], spread[p]) for p in part])
    out = (11, 12, 40)
    base = Baseline(first=5, last=80, excluded=tuple(Excluded(at=k, reason="jam") for k in out))
    kept = [5 <= k <= 80 and k not in out for k in range(1, 91)]
    wanted = part_levels(x.tolist(), part.tolist(), kept)
    chart = standardised_chart(x, part=part, baseline=base)
    main, moving = chart.charts
    z = [(v - wanted[p][0]) / wanted[p][1] for v, p in zip(x, part, strict=True)]
    np.testing.assert_allclose(main.value, z, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(moving.value, np.abs(np.diff(z)), rtol=1e-9, atol=1e-9)
    found = {level.part: (level.centre, level.sigma) for level in chart.parts}
    assert found == {p: pytest.approx(wanted[p], rel=1e-9) for p in wanted}
    assert (main.lower[0], main.centre, main.upper[0]) == (-3, 0, 3)
    assert moving.upper[0] == pytest.approx(d2(2) + 3 * d3(2))
    assert chart.baseline == base
    assert chart.sigma is None


def test_standardised_means_have_the_limits_of_the_classic_form() -> None:
    # plotted over R-bar of the part, limits are +-A2 and D3..D4 (from memory); here over sigma
    chart = standardised_chart(X.ravel(), NOMINAL, part=PART, subgroup=SUBGROUP)
    main, beside = chart.charts
    ranges = np.array(DNOM["recomputed"]["subgroup_range"])
    part = np.array(DNOM["data"]["part"])
    mean_range = np.where(part == "A", ranges[part == "A"].mean(), ranges[part == "B"].mean())
    classic = np.array(DNOM["recomputed"]["subgroup_mean"]) / mean_range
    np.testing.assert_allclose(main.value, classic * d2(3), rtol=1e-9)
    np.testing.assert_allclose(beside.value, ranges / mean_range * d2(3), rtol=1e-9)
    assert main.upper[0] == pytest.approx(3 / np.sqrt(3))
    assert [(level.part, level.n, level.centre) for level in chart.parts] == [
        ("A", 7, 50), ("B", 3, 25)]
    assert chart.cautions == (Caution.TOO_FEW_POINTS,)


def test_known_levels_need_no_part_and_no_baseline() -> None:
    x, nominal, spread = [10.5, 302.0, 9.0, 250.0], [10, 300, 10, 300], [0.5, 20, 0.5, 20]
    chart = standardised_chart(x, nominal, spread)
    np.testing.assert_allclose(chart.charts[0].value, [1, 0.1, -2, -2.5])
    assert (chart.baseline, chart.parts, chart.cautions) == (None, (), ())
    grouped = standardised_chart(x, 100, 50, subgroup=[1, 1, 2, 2], within="standard deviation")
    assert grouped.charts[0].value == pytest.approx([(156.25 - 100) / 50, (129.5 - 100) / 50])
    assert grouped.charts[1].centre == pytest.approx(c4(2))


def test_equal_nominals_are_one_part_where_no_part_is_told() -> None:
    x = np.random.default_rng(2).normal(0, 1, 60) + np.tile([50.0, 20.0], 30)
    by_nominal = standardised_chart(x, np.tile([50.0, 20.0], 30))
    by_part = standardised_chart(x, np.tile([50.0, 20.0], 30), part=np.tile(["A", "B"], 30))
    np.testing.assert_array_equal(by_nominal.charts[0].value, by_part.charts[0].value)
    assert [level.part for level in by_nominal.parts] == [50.0, 20.0]


def test_another_unit_for_one_part_shows_the_same_standardised_chart() -> None:
    part = np.tile(list("AABBB"), 12)
    x = np.random.default_rng(4).normal(20, 2, 60)
    other = np.where(part == "B", x * 25.4 - 3, x)
    for groups in (None, np.repeat(np.arange(24), np.tile([2, 3], 12))):
        one, same = (standardised_chart(v, part=part, subgroup=groups, rules="nelson")
                     for v in (x, other))
        for a, b in zip(one.charts, same.charts, strict=True):
            np.testing.assert_allclose(a.value, b.value, atol=1e-9)
            np.testing.assert_array_equal(a.signals, b.signals)


def test_a_shift_of_one_part_stands_out_on_both_charts() -> None:
    rng = np.random.default_rng(7)
    part = np.tile(np.repeat(list("ABC"), 8), 6)
    nominal = np.select([part == "A", part == "B"], [30.0, 80.0], 55.0)
    x = nominal + rng.normal(0, 1, len(part))
    x[-24:] += 4.0
    subgroup = np.arange(len(x)) // 4
    history = (1, 30)
    for chart in (deviation_chart(x, nominal, subgroup=subgroup, baseline=history),
                  standardised_chart(x, nominal, subgroup=subgroup, baseline=history)):
        assert chart.charts[0].signalled().tolist() == list(range(31, 37))
    assert not xbar_r_chart(x, subgroup, baseline=history).charts[1].signalled().size


@pytest.mark.parametrize(("arguments", "message"), [
    ({"nominal": [1, 2]}, "values has 4 values and nominal 2; they must be as many"),
    ({"nominal": list("abcd")}, "nominal holds what is not a number|could not convert"),
    ({"nominal": [[1], [1], [1], [1]]}, "nominal has 2 dimensions"),
    ({"nominal": np.nan}, "nominal is nan at position 1; it must be a finite number"),
    ({"nominal": [1, 2, 1, 1], "subgroup": list("aabb")}, "nominal differs within a subgroup"),
    ({"nominal": 0, "subgroup": list("aaab")}, r"subgroup has 1 value in 'b' \(point 2\)"),
    ({"nominal": 0, "within": "s"}, "within is 's'; allowed: range, standard deviation"),
    ({"nominal": 0, "part": list("ab")}, "values has 4 values and part 2"),
    ({"nominal": 0, "rules": "all"}, "rules is 'all'"),
    ({"nominal": 0, "baseline": (1, 9)}, "baseline is 1:9; it must lie inside 1:4"),
])
def test_wrong_deviations_are_named(arguments, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        deviation_chart([1.0, 2.0, 4.0, 3.0], **arguments)


@pytest.mark.parametrize(("arguments", "message"), [
    ({}, "part is not given; without nominal it must say which values go together"),
    ({"part": list("aaab")}, "part has too few values in 'b' inside the baseline"),
    ({"part": list("aabb"), "baseline": (1, 2)}, "part has no point in 'b' inside the baseline"),
    ({"nominal": [1, 1, 1, 2]}, "part has too few values in 2.0 inside the baseline"),
    ({"nominal": 0, "spread": [1, 0, 1, 1]}, "spread is 0 at position 2; allowed: numbers above 0"),
    ({"part": list("abab"), "subgroup": list("ccdd")}, "part differs within a subgroup"),
    ({"part": ["a", None, "a", "a"]}, "part is None at position 2"),
])
def test_wrong_parts_are_named(arguments, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        standardised_chart([1.0, 2.0, 4.0, 3.0], **arguments)


def test_a_range_of_too_many_values_is_refused() -> None:
    x = np.random.default_rng(1).normal(size=1200)
    with pytest.raises(ValueError, match=r"subgroup has 1200 values in 0 \(point 1\)"):
        deviation_chart(x, 0, subgroup=[0] * 1200)
    assert deviation_chart(x, 0, subgroup=[0] * 1200, within="standard deviation").sigma > 0.9


def test_a_part_that_does_not_vary_has_no_unit() -> None:
    with pytest.raises(ValueError, match="part has no variation in 'a' inside the baseline"):
        standardised_chart([5.0, 5.0, 5.0], part=list("aaa"))
