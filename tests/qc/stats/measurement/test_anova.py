from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from qc.stats.measurement.anova import crossed, one_way, without_interaction
from tests.published import case
from tests.reference.anova import crossed_squares

NIST = case("anova_nist_one_way")
CERTIFIED = case("strd_anova")
GAUGE = case("grr_houf_berman_10x3x3")


def _generated(n_each: int, level: int) -> list[list[float]]:
    """The rule printed with the certified values, each number written out and read."""
    tenths = [4, *[3, 5] * 4]
    whole = level if level else 1
    return [[float(f"{whole}.{k}") for k in (m, *[m - 1, m + 1] * ((n_each - 1) // 2))]
            for m in tenths]


def test_nist_one_way() -> None:
    found = one_way(NIST["data"]["groups"])
    between, within = found.lines
    values = {
        "SS": [between.sum_of_squares, within.sum_of_squares, found.total],
        "df": [between.df, within.df, found.total_df],
        "MS": [between.mean_square, within.mean_square],
        "F": between.f, "p": between.p_value, "F_crit_05": between.critical(0.05),
    }
    for name, wanted in NIST["published"].items():
        assert values[name] == pytest.approx(wanted["value"], abs=wanted["tolerance"]), name
    assert set(values) == set(NIST["recomputed"])
    for name, wanted in NIST["recomputed"].items():
        assert values[name] == pytest.approx(wanted, rel=1e-9), name
    assert np.isnan(within.f)
    assert np.isnan(within.critical())


def _certified(groups, row, digits: float) -> None:
    between, within = one_way(groups).lines
    assert (between.df, between.sum_of_squares, between.mean_square, between.f) == pytest.approx(
        row["between"], rel=10.0**-digits)
    assert (within.df, within.sum_of_squares, within.mean_square) == pytest.approx(
        row["within"], rel=10.0**-digits)


@pytest.mark.parametrize(("name", "digits"), [("SiRstv", 12.5), ("AtmWtAg", 10)])
def test_certified_values_as_measured(name, digits) -> None:
    _certified(CERTIFIED[name]["groups"], CERTIFIED[name], digits)


@pytest.mark.parametrize("row", CERTIFIED["generated"]["cases"], ids=lambda row: row["name"])
def test_certified_values_of_generated_data(row) -> None:
    # as many digits as the numbers themselves hold: at 10^12 a tenth is stored to 3 digits
    digits = {0: 14, 10**6: 9.8, 10**12: 3.8}[row["level"]]
    _certified(_generated(row["n_each"], row["level"]), row, digits)


def test_one_way_agrees_with_a_library_for_unequal_groups() -> None:
    rng = np.random.default_rng(70)
    for _ in range(5):
        groups = [rng.normal(k % 2, 2, rng.integers(1, 30)) for k in range(5)]
        found, wanted = one_way(groups).lines[0], stats.f_oneway(*groups)
        assert (found.f, found.p_value) == pytest.approx(tuple(wanted), rel=1e-9)


def test_crossed_study_of_houf_and_berman() -> None:
    found = crossed(GAUGE["data"]["part_operator_repeat"], ("parts", "people"))
    lines = found.lines
    values = {
        "SS": [*(line.sum_of_squares for line in lines), found.total],
        "df": [*(line.df for line in lines), found.total_df],
        "MS": [line.mean_square for line in lines],
        "F": [line.f for line in lines[:3]], "p_values": [line.p_value for line in lines[:3]],
    }
    for name in ("SS", "MS", "F"):
        wanted = GAUGE["published"][name]
        assert values[name] == pytest.approx(wanted["value"], abs=wanted["tolerance"]), name
    for name, value in values.items():
        assert value == pytest.approx(GAUGE["recomputed"][name], rel=1e-9), name
    wanted = GAUGE["recomputed"]["reduced_model_no_interaction"]
    reduced = without_interaction(found)
    assert (reduced.line("repeats").mean_square, reduced.line("repeats").df,
            reduced.line("parts").f, reduced.line("people").f) == pytest.approx(
        (wanted["MSE"], wanted["df"], wanted["F_part"], wanted["F_operator"]), rel=1e-9)


@pytest.mark.parametrize("shape", [(3, 4, 2), (2, 2, 5), (6, 3, 1)])
def test_crossed_agrees_with_the_plain_sums_and_a_library(shape) -> None:
    rng = np.random.default_rng(71)
    cube = (rng.normal(0, 1, shape) + rng.normal(0, 3, (shape[0], 1, 1))
            + rng.normal(0, 1, (1, shape[1], 1)) + 1000)
    found = crossed(cube, ("a", "b"))
    squares = [line.sum_of_squares for line in found.lines]
    np.testing.assert_allclose(squares, crossed_squares(cube.tolist())[:len(squares)], rtol=1e-9)
    at = np.indices(shape).reshape(3, -1)
    frame = pd.DataFrame({"a": at[0], "b": at[1], "y": cube.ravel()})
    if shape[2] > 1:
        wanted = anova_lm(ols("y ~ C(a) * C(b)", frame).fit())
        np.testing.assert_allclose(squares, wanted["sum_sq"], rtol=1e-7)
        assert [line.df for line in found.lines] == wanted["df"].tolist()
        assert found.line("interaction").f == pytest.approx(wanted["F"].iloc[2], rel=1e-7)
    plain = anova_lm(ols("y ~ C(a) + C(b)", frame).fit())
    reduced = without_interaction(found)
    np.testing.assert_allclose([reduced.line(name).f for name in "ab"], plain["F"].iloc[:2],
                               rtol=1e-7)
    assert np.isnan(found.lines[-1].f)


def test_equal_values_leave_nothing_to_judge() -> None:
    flat = one_way([[0.1, 0.1, 0.1], [0.1, 0.1]])
    assert flat.total == 0
    assert np.isnan(flat.lines[0].f)
    assert np.isnan(flat.lines[0].p_value)
    apart = one_way([[0.1, 0.1, 0.1], [0.3, 0.3]]).lines[0]
    assert (apart.f, apart.p_value) == (np.inf, 0.0)
    cube = crossed(np.full((3, 2, 3), 0.1), ("a", "b"))
    assert cube.total == 0
    cube = crossed(np.array([[[0.3] * 3, [0.7] * 3], [[0.1] * 3, [0.2] * 3]]), ("a", "b"))
    assert cube.line("repeats").sum_of_squares == 0
    assert cube.line("interaction").f == np.inf


def test_small_differences_on_a_large_level_are_kept() -> None:
    cube = np.random.default_rng(72).integers(0, 9, (3, 2, 2)) / 2.0**20
    found, wanted = crossed(cube + 2.0**30, ("a", "b")), crossed(cube, ("a", "b"))
    np.testing.assert_allclose([line.sum_of_squares for line in found.lines],
                               [line.sum_of_squares for line in wanted.lines], rtol=1e-9)
    groups = cube.reshape(3, 4)
    assert one_way(groups + 2.0**30).lines[0].f == pytest.approx(one_way(groups).lines[0].f)


def test_unit_and_zero_do_not_matter() -> None:
    groups = NIST["data"]["groups"]
    there = one_way(groups).lines[0]
    fahrenheit = one_way([[1.8 * x + 32 for x in group] for group in groups]).lines[0]
    assert fahrenheit.f == pytest.approx(there.f, rel=1e-12)
    assert fahrenheit.sum_of_squares == pytest.approx(1.8**2 * there.sum_of_squares, rel=1e-12)


@pytest.mark.parametrize(("call", "message"), [
    (lambda: one_way([[1, 2]]), "groups holds 1; it needs at least 2"),
    (lambda: one_way([[1, 2], []]), "group 2 has 0 values; it needs at least 1"),
    (lambda: one_way([[1], [2]]), "every group has 1 value; spread within groups needs 2"),
    (lambda: one_way([[1, 2], [3, np.nan]]), "group 2 is nan at position 2; it must be a finite"),
    (lambda: one_way(NIST["data"]["groups"]).lines[0].critical(1), "alpha is 1; it must be inside"),
    (lambda: crossed([[1, 2], [3, 4]], ("a", "b")), "values has 2 dimensions; it must have 3"),
    (lambda: crossed(np.ones((1, 3, 2)), ("a", "b")), r"values has shape \(1, 3, 2\); it needs 2"),
    (lambda: crossed(np.ones((2, 3, 0)), ("a", "b")), r"values has shape \(2, 3, 0\); it needs"),
    (lambda: crossed([[[1, 2], [3, np.inf]], [[1, 2], [3, 4]]], ("a", "b")),
     r"values is inf at \(1, 2, 2\); it must be finite"),
])
def test_wrong_input_is_named(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
