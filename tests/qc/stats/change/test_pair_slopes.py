from __future__ import annotations

import numpy as np
import pytest

from qc.stats.change import pair_slopes
from qc.stats.change.pair_slopes import PairSlopes

N = 700
MOST_COUNTINGS = 40
"""For three places among the slopes of 20 000 points; 9 to 28 are needed."""


def _series(name: str, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    x = np.arange(float(N))
    return {
        "noise": (x, rng.normal(size=N)),
        "few values": (x, rng.integers(0, 4, N).astype(float)),
        "a line": (x, x / 3),
        "level": (x, np.full(N, 2.5)),
        "a step": (x, np.where(x < N / 2, 0.0, 5.0)),
        "ties in both": (np.round(rng.uniform(0, 60, N)), np.round(rng.normal(0, 3, N), 1)),
        "a wave": (x, 7 * np.sin(x)),
        "far from zero": (1e6 + rng.uniform(0, 1e-3, N), rng.normal(size=N)),
        "wild": (rng.standard_cauchy(N), rng.standard_cauchy(N)),
        "two places": (np.where(x < 5, 0.0, 1.0), rng.normal(size=N)),
    }[name]


@pytest.mark.parametrize("name", [
    "noise", "few values", "a line", "level", "a step", "ties in both", "a wave", "far from zero",
    "wild", "two places"])
@pytest.mark.parametrize("listed", [10, 10**6])
def test_selected_slopes_are_those_of_the_sorted_list(name, listed, monkeypatch) -> None:
    rng = np.random.default_rng(110)
    x, y = _series(name, rng)
    written = PairSlopes(x, y)
    every = written.at(range(written.n_pairs))
    assert (np.diff(every) >= 0).all()
    monkeypatch.setattr(pair_slopes, "FEW_POINTS", 10)
    monkeypatch.setattr(pair_slopes, "MOST_LISTED", listed)
    found = PairSlopes(x, y)
    m = found.n_pairs
    assert m == len(every)
    places = [0, 1, m // 3, (m - 1) // 2, m // 2, m - 2, m - 1, *rng.integers(0, m, 12).tolist()]
    np.testing.assert_allclose(found.at(places), every[places], rtol=1e-12, atol=1e-300)


def test_a_sample_that_sees_nothing_only_costs_time(monkeypatch) -> None:
    rng = np.random.default_rng(111)
    x, y = _series("noise", rng)
    written = PairSlopes(x, y)
    monkeypatch.setattr(pair_slopes, "FEW_POINTS", 10)
    monkeypatch.setattr(pair_slopes, "MOST_LISTED", 10)
    monkeypatch.setattr(pair_slopes, "SAMPLE", 1)
    places = [5, 100_000, 200_000]
    np.testing.assert_allclose(PairSlopes(x, y).at(places), written.at(places), rtol=1e-12)


def test_no_pair_at_all() -> None:
    assert PairSlopes(np.zeros(2000), np.arange(2000.0)).n_pairs == 0


@pytest.mark.parametrize("name", ["noise", "few values", "wild", "mostly level"])
def test_few_countings_close_in_on_a_place(name, monkeypatch) -> None:
    rng = np.random.default_rng(112)
    n = 20_000
    x = np.arange(float(n))
    y = {"noise": rng.normal(size=n), "few values": rng.integers(0, 50, n).astype(float),
         "wild": rng.standard_cauchy(n),
         "mostly level": np.where(x < 0.999 * n, 0.0, rng.uniform(1, 2, n))}[name]
    counted = []
    count = pair_slopes.count_descents
    monkeypatch.setattr(pair_slopes, "MOST_LISTED", 10)
    monkeypatch.setattr(pair_slopes, "count_descents",
                        lambda values: counted.append(1) or count(values))
    found = PairSlopes(x, y)
    m = found.n_pairs
    slopes = found.at([int(0.49 * m), m // 2, int(0.99 * m)])
    assert (np.diff(slopes) >= 0).all()
    assert len(counted) <= MOST_COUNTINGS
