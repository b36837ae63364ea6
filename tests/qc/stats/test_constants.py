from __future__ import annotations

import math

import pytest

from qc.stats.constants import c4, d2, d3
from tests.published import table
from tests.reference.constants import range_mean_and_deviation

FACTORS = {"d2": d2, "d3": d3, "c4": c4}


@pytest.mark.parametrize("row", table("constants_exact"), ids=lambda row: f"n={row['n']}")
def test_factors_agree_with_ten_printed_decimals(row: dict[str, str]) -> None:
    n = int(row["n"])
    for name, factor in FACTORS.items():
        assert factor(n) == pytest.approx(float(row[name]), abs=1e-8)


def _derived(name: str, n: int) -> float:
    """Factors of a handbook table, from the three that are computed."""
    a, b = 3 * d3(n) / d2(n), 3 * math.sqrt(1 - c4(n) ** 2)
    return {
        "A": 3 / math.sqrt(n), "A2": 3 / (d2(n) * math.sqrt(n)), "A3": 3 / (c4(n) * math.sqrt(n)),
        "B3": max(0, 1 - b / c4(n)), "B4": 1 + b / c4(n), "B5": max(0, c4(n) - b),
        "B6": c4(n) + b, "D1": max(0, d2(n) - 3 * d3(n)), "D2": d2(n) + 3 * d3(n),
        "D3": max(0, 1 - a), "D4": 1 + a, "d2": d2(n), "d3": d3(n), "c4": c4(n),
        "inv_d2": 1 / d2(n), "inv_c4": 1 / c4(n), "E2": 3 / d2(n),
    }[name]


@pytest.mark.parametrize("row", table("constants_published"),
                         ids=lambda row: f"{row['constant']}({row['n']})")
def test_factors_agree_with_the_classic_table(row: dict[str, str]) -> None:
    # one entry in twelve was computed from rounded factors: up to two units in the last digit,
    # and 1/d2(2) = 0.8862 is printed as 1/1.128 = 0.8865
    unit = 10.0 ** -int(row["decimals"])
    wanted = 0.5 if row["published_equals_rounded_exact"] == "True" else 2.5
    wanted = 3.5 if (row["constant"], row["n"]) == ("inv_d2", "2") else wanted
    computed = _derived(row["constant"], int(row["n"]))
    assert computed == pytest.approx(float(row["published"]), abs=wanted * unit * (1 + 1e-9))


@pytest.mark.parametrize("n", [2, 3, 6, 25, 60, 100])
def test_factors_agree_with_the_density_of_the_range(n: int) -> None:
    mean, deviation = range_mean_and_deviation(n)
    assert d2(n) == pytest.approx(mean, abs=1e-8)
    assert d3(n) == pytest.approx(deviation, abs=1e-8)


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


@pytest.mark.parametrize("factor", FACTORS.values())
@pytest.mark.parametrize("n", [1, 0, -3, 2.5])
def test_a_size_that_cannot_be_is_refused(factor, n) -> None:
    with pytest.raises(ValueError, match=r"n is .*; the subgroup size must be a whole number"):
        factor(n)


def test_a_size_beyond_the_quadrature_is_refused() -> None:
    with pytest.raises(ValueError, match=r"2\.\.1000"):
        d2(1001)
    assert 0.999 < c4(5000) < 1
