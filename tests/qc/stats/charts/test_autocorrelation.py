from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm
from statsmodels.stats.diagnostic import acorr_ljungbox
from statsmodels.tsa.stattools import acf

from qc.stats.charts.autocorrelation import (
    MOST_JUDGED,
    autocorrelations,
    independent_part,
    likeness,
    ljung_box,
    moving_range_share,
)


def autoregressive(r: float, n: int, rng: np.random.Generator) -> np.ndarray:
    x = np.empty(n)
    x[0] = rng.normal()
    for i in range(1, n):
        x[i] = r * x[i - 1] + math.sqrt(1 - r * r) * rng.normal()
    return x


@pytest.mark.parametrize("n_lags", [1, 4, 10])
def test_autocorrelations_agree_with_a_library(n_lags: int) -> None:
    x = autoregressive(0.5, 60, np.random.default_rng(1))
    assert autocorrelations(x, n_lags) == pytest.approx(acf(x, nlags=n_lags)[1:], rel=1e-9)


@pytest.mark.parametrize("n_fitted", [0, 1])
def test_ljung_box_agrees_with_a_library(n_fitted: int) -> None:
    x = autoregressive(0.3, 80, np.random.default_rng(2))
    ours = ljung_box(x, n_lags=5, n_fitted=n_fitted)
    theirs = acorr_ljungbox(x, lags=[5], model_df=n_fitted)
    assert ours.statistic == pytest.approx(float(theirs["lb_stat"].iloc[0]), rel=1e-9)
    assert ours.p_value == pytest.approx(float(theirs["lb_pvalue"].iloc[0]), rel=1e-9)


@pytest.mark.parametrize("n", [12, 25, 100])
def test_independent_points_are_called_alike_as_rarely_as_stated(n: int) -> None:
    rng = np.random.default_rng(n)
    called = sum(likeness(rng.normal(size=n)).p_value < 0.05 for _ in range(2000))
    # four standard errors about 5 %, and one per cent for the normal approximation
    assert abs(called / 2000 - 0.05) < 4 * math.sqrt(0.05 * 0.95 / 2000) + 0.01


def test_likeness_is_seen_where_it_matters() -> None:
    rng = np.random.default_rng(3)
    alike = likeness(autoregressive(0.6, 200, rng))
    opposed = likeness(autoregressive(-0.6, 200, rng))
    assert alike.matters and alike.r > 0.4
    assert opposed.matters and opposed.r < -0.4
    assert not likeness(rng.normal(size=200)).matters


def test_a_trace_of_likeness_in_many_points_does_not_matter() -> None:
    slight = likeness(autoregressive(0.05, MOST_JUDGED, np.random.default_rng(4)))
    assert slight.p_value < 0.001
    assert not slight.matters


@pytest.mark.parametrize("values", [[1.0, 2.0, 3.0], [5.0] * 30, [0.3, 0.1 + 0.2] * 15])
def test_too_little_to_judge_is_unknown_rather_than_zero(values: list[float]) -> None:
    unknown = likeness(np.array(values))
    assert math.isnan(unknown.r) and math.isnan(unknown.p_value)
    assert not unknown.matters


@pytest.mark.parametrize("r", [-0.5, 0.0, 0.5, 0.9])
def test_share_of_spread_that_moving_ranges_see(r: float) -> None:
    # mean distance of two neighbours by integration, against that of independent ones
    width = math.sqrt(2 * (1 - r))
    mean = quad(lambda d: abs(d) * norm.pdf(d, scale=width), -40, 40, points=[0])[0]
    assert moving_range_share(r) == pytest.approx(mean / (2 / math.sqrt(math.pi)), rel=1e-9)


def test_the_independent_part_is_independent() -> None:
    x = autoregressive(0.7, 5000, np.random.default_rng(5))
    left = independent_part(x)
    assert len(left) == len(x) - 1
    assert abs(likeness(left).r) < 0.05
    assert left.std() == pytest.approx(math.sqrt(1 - 0.49), rel=0.05)
    part = independent_part(x, baseline=(1, 2500))
    assert part[:2499].std() == pytest.approx(math.sqrt(1 - 0.49), rel=0.05)
    assert independent_part(x, baseline=(1, 5000)) == pytest.approx(left, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "message"),
    [(lambda: autocorrelations([1, 2, 3], 0), r"n_lags is 0; it must be inside 1\.\.2"),
     (lambda: autocorrelations([1, 2, 3], 3), "n_lags is 3"),
     (lambda: autocorrelations([2, 2, 2], 1), "values are all equal"),
     (lambda: autocorrelations([0.1] * 6, 1), "values are all equal"),  # their mean is not 0.1
     (lambda: independent_part([0.1] * 6), "values are all equal"),
     (lambda: autocorrelations([1, math.nan, 3], 1), "values is nan at position 2"),
     (lambda: ljung_box([1, 2, 4, 3], n_lags=2, n_fitted=2), r"n_fitted is 2.*0\.\.1"),
     (lambda: independent_part([1, 2, 3]), "at least 4"),
     (lambda: moving_range_share(1.5), "r is 1.5")],
)
def test_wrong_input_is_named(call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
