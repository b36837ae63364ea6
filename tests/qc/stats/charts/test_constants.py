from __future__ import annotations

import math
from dataclasses import asdict

import numpy as np
import pytest

from qc.stats.charts.constants import c4, d2, d3, factors
from tests.published import table
from tests.reference.constants import mean_deviation, range_mean_and_deviation

FACTORS = {"d2": d2, "d3": d3, "c4": c4}


@pytest.mark.parametrize("row", table("constants_exact"), ids=lambda row: f"n={row['n']}")
def test_factors_agree_with_ten_printed_decimals(row: dict[str, str]) -> None:
    found = asdict(factors(int(row["n"])))
    printed = {name: float(row[name]) for name in found}
    assert found == pytest.approx(printed, abs=1e-8, rel=0)
    assert (found["d2"], found["d3"], found["c4"]) == tuple(
        factor(int(row["n"])) for factor in FACTORS.values())


@pytest.mark.parametrize("row", table("constants_published"),
                         ids=lambda row: f"{row['constant']}({row['n']})")
def test_factors_agree_with_the_classic_table(row: dict[str, str]) -> None:
    # one entry in twelve was computed from rounded factors: up to two units in the last digit,
    # and 1/d2(2) = 0.8862 is printed as 1/1.128 = 0.8865
    unit = 10.0 ** -int(row["decimals"])
    wanted = 0.5 if row["published_equals_rounded_exact"] == "True" else 2.5
    wanted = 3.5 if (row["constant"], row["n"]) == ("inv_d2", "2") else wanted
    found = factors(int(row["n"]))
    computed = asdict(found) | {"inv_d2": 1 / found.d2, "inv_c4": 1 / found.c4}
    assert computed[row["constant"]] == pytest.approx(
        float(row["published"]), abs=wanted * unit * (1 + 1e-9))


def test_the_classic_table_differs_where_it_was_made_from_rounded_factors() -> None:
    # counted so that a new disagreement does not slip in among the known ones
    known = [row for row in table("constants_published")
             if row["published_equals_rounded_exact"] != "True"]
    assert len(known) == 20


@pytest.mark.parametrize("n", [*range(2, 101), 300, 1000])
def test_factors_agree_with_the_density_of_the_range(n: int) -> None:
    mean, deviation = range_mean_and_deviation(n)
    assert d2(n) == pytest.approx(mean, abs=1e-9)
    assert d3(n) == pytest.approx(deviation, abs=1e-9)


@pytest.mark.parametrize("sizes", [range(2, 101), range(101, 1001), [1001, 1002, 5000, 20001]])
def test_c4_agrees_with_whole_number_arithmetic(sizes) -> None:
    for n in sizes:
        assert c4(n) == pytest.approx(mean_deviation(n), rel=1e-11)


@pytest.mark.parametrize("n", [2, 5, 40])
def test_simulated_samples_have_these_moments(n: int) -> None:
    x = np.random.default_rng(n).normal(size=(200_000, n))
    spread, deviation = np.ptp(x, axis=1), x.std(axis=1, ddof=1)
    for seen, mean in [(spread, d2(n)), (deviation, c4(n))]:
        assert seen.mean() == pytest.approx(mean, abs=4 * seen.std() / np.sqrt(len(seen)))
    assert spread.std() == pytest.approx(d3(n), rel=0.01)


def test_two_values_have_a_closed_form() -> None:
    assert d2(2) == pytest.approx(2 / math.sqrt(math.pi), abs=1e-12)
    assert d3(2) == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-11)
    assert c4(2) == pytest.approx(math.sqrt(2 / math.pi), abs=1e-14)


def test_three_values_have_a_closed_form() -> None:
    # mean range of three: 3 / sqrt(pi); e.g. David & Nagaraja, Order Statistics (from memory)
    assert d2(3) == pytest.approx(3 / math.sqrt(math.pi), abs=1e-11)


def test_factors_move_one_way_with_the_size() -> None:
    sizes = range(2, 101)
    assert all(d2(n) < d2(n + 1) for n in sizes)
    assert all(c4(n) < c4(n + 1) < 1 for n in sizes)


@pytest.mark.parametrize("factor", [*FACTORS.values(), factors])
@pytest.mark.parametrize("n", [1, 0, -3, 2.5])
def test_a_size_that_cannot_be_is_refused(factor, n) -> None:
    with pytest.raises(ValueError, match=r"n is .*; the subgroup size must be a whole number"):
        factor(n)


def test_a_size_beyond_the_quadrature_is_refused() -> None:
    with pytest.raises(ValueError, match=r"2\.\.1000"):
        d2(1001)
    assert 0.999 < c4(5000) < 1
