"""Each chart on many values beside the plainest numpy pass of the same arithmetic, and its memory.

    python -m tests.benchmarks.charts [--values 10000000] [--turns 3] [--only p,cusum]

Plain means: no checks, no labels, one line of numpy for each line of the formula. Recursions are
compared with `scipy.signal.lfilter`, the plainest compiled loop. Memory counts everything alive at
the worst moment, inputs included, in arrays of ``values`` float64.
"""

from __future__ import annotations

import argparse
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.signal import lfilter

from qc.stats.charts.constants import c4, d2, d3
from qc.stats.charts.cusum import cusum_chart
from qc.stats.charts.ewma import ewma_chart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.laney import p_prime_chart, u_prime_chart
from qc.stats.charts.mewma import mewma_chart
from qc.stats.charts.multivariate import t2_chart
from qc.stats.charts.q_charts import q_chart
from qc.stats.charts.rare_events import g_chart, t_chart
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart
from qc.stats.charts.short_run import deviation_chart, standardised_chart
from qc.stats.charts.subgroup_means import xbar_r_chart, xbar_s_chart
from tests.benchmarks.measuring import SideBySide, heading, say, side_by_side, verdict

SIZE = 5
MOST_TIMES = 3.0
MOST_TIMES_RULES = 10.0
MOST_ARRAYS = 6.0
Inputs = tuple[Any, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One chart: its inputs, our function and the plain pass over the same inputs."""

    inputs: Callable[[int, np.random.Generator], Inputs]
    ours: Callable[..., object]
    plain: Callable[..., object]
    most: float = MOST_TIMES


def values(n: int, rng: np.random.Generator) -> Inputs:
    return (rng.normal(160.0, 1.5, n),)


def grouped(n: int, rng: np.random.Generator) -> Inputs:
    n -= n % SIZE
    return rng.normal(160.0, 1.5, n), np.repeat(np.arange(n // SIZE), SIZE)


def parts(n: int, rng: np.random.Generator) -> Inputs:
    nominal = rng.choice([150.0, 160.0, 165.0], n)
    return nominal + rng.normal(0.0, 1.5, n), nominal


def parts_with_spread(n: int, rng: np.random.Generator) -> Inputs:
    nominal = rng.choice([150.0, 160.0, 165.0], n)
    spread = np.where(nominal > 155, 2.0, 1.0)
    return nominal + rng.normal(0.0, 1.0, n) * spread, nominal, spread


def pairs(n: int, rng: np.random.Generator) -> Inputs:
    return (rng.normal(0.0, 1.0, (n // 2, 2)),)


def shares(n: int, rng: np.random.Generator) -> Inputs:
    size = rng.integers(80, 120, n).astype(np.float64)
    return rng.binomial(size.astype(np.int64), 0.05).astype(np.float64), size


def equal_shares(n: int, rng: np.random.Generator) -> Inputs:
    return rng.binomial(100, 0.05, n).astype(np.float64), np.full(n, 100.0)


def rates(n: int, rng: np.random.Generator) -> Inputs:
    units = rng.uniform(5.0, 10.0, n)
    return rng.poisson(units).astype(np.float64), units


def counts(n: int, rng: np.random.Generator) -> Inputs:
    return (rng.poisson(9.0, n).astype(np.float64),)


def gaps(n: int, rng: np.random.Generator) -> Inputs:
    return ((rng.geometric(0.02, n) - 1).astype(np.float64),)


def times(n: int, rng: np.random.Generator) -> Inputs:
    return (rng.exponential(40.0, n) + 1e-6,)


def beyond(x: Any, lower: Any, upper: Any) -> Any:
    return (x > upper) | (x < lower)


def dispersion(x: Any, middle: float, sigma: Any) -> Any:
    # every chart of counts says whether chance alone could scatter them so
    return (((x - middle) / sigma) ** 2).sum()


def plain_individuals(x: Any) -> object:
    ranges = np.abs(np.diff(x))
    middle, sigma = x.mean(), ranges.mean() / d2(2)
    top = (d2(2) + 3 * d3(2)) * sigma
    return beyond(x, middle - 3 * sigma, middle + 3 * sigma), ranges > top


def plain_mean_range(x: Any, _: Any) -> object:
    table = x.reshape(-1, SIZE)
    mean, spread = table.mean(axis=1), table.max(axis=1) - table.min(axis=1)
    sigma = spread.mean() / d2(SIZE)
    reach = 3 * sigma / np.sqrt(SIZE)
    return (beyond(mean, mean.mean() - reach, mean.mean() + reach),
            spread > (d2(SIZE) + 3 * d3(SIZE)) * sigma)


def plain_mean_deviation(x: Any, _: Any) -> object:
    table = x.reshape(-1, SIZE)
    mean, spread = table.mean(axis=1), table.std(axis=1, ddof=1)
    sigma = spread.mean() / c4(SIZE)
    reach = 3 * sigma / np.sqrt(SIZE)
    return (beyond(mean, mean.mean() - reach, mean.mean() + reach),
            spread > (c4(SIZE) + 3 * np.sqrt(1 - c4(SIZE) ** 2)) * sigma)


def plain_p(d: Any, n: Any) -> object:
    p, middle = d / n, d.sum() / n.sum()
    sigma = np.sqrt(middle * (1 - middle) / n)
    reach = 3 * sigma
    lower, upper = np.maximum(middle - reach, 0), np.minimum(middle + reach, 1)
    return dispersion(p, middle, sigma), beyond(p, lower, upper)


def plain_np(d: Any, n: Any) -> object:
    middle = d.mean()
    sigma = np.sqrt(middle * (1 - middle / n))
    reach = 3 * sigma
    return dispersion(d, middle, sigma), beyond(d, np.maximum(middle - reach, 0), middle + reach)


def plain_u(c: Any, n: Any) -> object:
    u, middle = c / n, c.sum() / n.sum()
    sigma = np.sqrt(middle / n)
    reach = 3 * sigma
    return dispersion(u, middle, sigma), beyond(u, np.maximum(middle - reach, 0), middle + reach)


def plain_c(c: Any) -> object:
    middle = c.mean()
    sigma = np.sqrt(middle)
    reach = 3 * sigma
    return dispersion(c, middle, sigma), beyond(c, max(middle - reach, 0), middle + reach)


def plain_p_prime(d: Any, n: Any) -> object:
    p, middle = d / n, d.sum() / n.sum()
    sigma = np.sqrt(middle * (1 - middle) / n)
    z = (p - middle) / sigma
    reach = 3 * np.abs(np.diff(z)).mean() / 1.128 * sigma
    return beyond(p, np.maximum(middle - reach, 0), np.minimum(middle + reach, 1))


def plain_u_prime(c: Any, n: Any) -> object:
    u, middle = c / n, c.sum() / n.sum()
    sigma = np.sqrt(middle / n)
    z = (u - middle) / sigma
    reach = 3 * np.abs(np.diff(z)).mean() / 1.128 * sigma
    return beyond(u, np.maximum(middle - reach, 0), middle + reach)


def plain_g(x: Any) -> object:
    middle = x.mean()
    return beyond(x, 0.0, middle + 3 * np.sqrt(middle * (middle + 1)))


def plain_t(x: Any) -> object:
    y = x ** (1 / 3.6)
    middle, sigma = y.mean(), np.abs(np.diff(y)).mean() / d2(2)
    lower, upper = middle - 3 * sigma, middle + 3 * sigma
    return beyond(y, lower, upper), max(lower, 0) ** 3.6, upper**3.6, y**3.6


def plain_ewma(x: Any) -> object:
    middle, sigma = x.mean(), np.abs(np.diff(x)).mean() / d2(2)
    smooth = lfilter([0.2], [1, -0.8], x, zi=[0.8 * middle])[0]
    reach = 3 * sigma * np.sqrt(0.2 / 1.8)  # the limits that ours come to after a few points
    return beyond(smooth, middle - reach, middle + reach)


def plain_cusum(x: Any) -> object:
    # the two sides as two compiled recursions; a running maximum is no slower than a product
    middle, sigma = x.mean(), np.abs(np.diff(x)).mean() / d2(2)
    up = lfilter([1.0], [1.0, -1.0], x - (middle + 0.5 * sigma))
    down = lfilter([1.0], [1.0, -1.0], (middle - 0.5 * sigma) - x)
    return up > 5 * sigma, down > 5 * sigma


def plain_t2(x: Any) -> object:
    away = x - x.mean(axis=0)
    inverse = np.linalg.inv(away.T @ away / (len(x) - 1))
    return (away @ inverse * away).sum(axis=1) > 11.8


def plain_mewma(x: Any) -> object:
    away = x - x.mean(axis=0)
    inverse = np.linalg.inv(away.T @ away / (len(x) - 1)) * (1.9 / 0.1)
    smooth = lfilter([0.1], [1, -0.9], away, axis=0)
    return (smooth @ inverse * smooth).sum(axis=1) > 8.6


def plain_deviation(x: Any, nominal: Any) -> object:
    return plain_individuals(x - nominal)


def plain_standardised(x: Any, nominal: Any, spread: Any) -> object:
    z = (x - nominal) / spread
    return beyond(z, -3.0, 3.0), np.abs(np.diff(z)) > d2(2) + 3 * d3(2)


def plain_q(x: Any) -> object:
    # known mean and spread are the plain case of the same statistic
    from scipy.special import ndtri, stdtr
    i = np.arange(1, len(x) + 1)
    total, squares = np.cumsum(x), np.cumsum(x * x)
    mean = total / i
    s = np.sqrt((squares - total * mean)[1:-1] / (i - 1)[1:-1])
    t = np.sqrt((i - 1)[2:] / i[2:]) * (x[2:] - mean[1:-1]) / s
    return beyond(ndtri(stdtr((i - 2.0)[2:], t)), -3.0, 3.0)


CASES: dict[str, Case] = {
    "individuals": Case(inputs=values, ours=individuals_chart, plain=plain_individuals),
    "xbar-r": Case(inputs=grouped, ours=xbar_r_chart, plain=plain_mean_range),
    "xbar-s": Case(inputs=grouped, ours=xbar_s_chart, plain=plain_mean_deviation),
    "p": Case(inputs=shares, ours=p_chart, plain=plain_p),
    "np": Case(inputs=equal_shares, ours=np_chart, plain=plain_np),
    "c": Case(inputs=counts, ours=c_chart, plain=plain_c),
    "u": Case(inputs=rates, ours=u_chart, plain=plain_u),
    "p-prime": Case(inputs=shares, ours=p_prime_chart, plain=plain_p_prime),
    "u-prime": Case(inputs=rates, ours=u_prime_chart, plain=plain_u_prime),
    "g": Case(inputs=gaps, ours=g_chart, plain=plain_g),
    "t": Case(inputs=times, ours=t_chart, plain=plain_t),
    "ewma": Case(inputs=values, ours=ewma_chart, plain=plain_ewma),
    "cusum": Case(inputs=values, ours=cusum_chart, plain=plain_cusum),
    "t2": Case(inputs=pairs, ours=t2_chart, plain=plain_t2),
    "mewma": Case(inputs=pairs, ours=mewma_chart, plain=plain_mewma),
    "deviation": Case(inputs=parts, ours=deviation_chart, plain=plain_deviation),
    "standardised": Case(inputs=parts_with_spread, ours=standardised_chart,
                         plain=plain_standardised),
    "q": Case(inputs=values, ours=q_chart, plain=plain_q),
    "nelson rules": Case(inputs=values, ours=lambda x: individuals_chart(x, rules="nelson"),
                         plain=plain_individuals, most=MOST_TIMES_RULES),
}


def peak_arrays(case: Case, n: int) -> float:
    """Most memory alive at once while charting, inputs included, in arrays of n float64."""
    tracemalloc.start()
    try:
        inputs = case.inputs(n, np.random.default_rng(3))
        tracemalloc.reset_peak()
        case.ours(*inputs)
        return tracemalloc.get_traced_memory()[1] / (8 * n)
    finally:
        tracemalloc.stop()


def measure(name: str, n: int, n_turns: int) -> bool:
    """Time and memory of one chart; whether both are as wanted."""
    case = CASES[name]
    figures = _timed(case, n, n_turns)
    say(f"  {name}: {figures.ours_s:.3f} s, plain {figures.plain_s:.3f} s")
    fast = verdict(f"{name}, times the plain pass", figures.ratio, at_most=case.most)
    lean = verdict(f"{name}, arrays in memory", peak_arrays(case, n), at_most=MOST_ARRAYS)
    return fast and lean


def _timed(case: Case, n: int, n_turns: int) -> SideBySide:
    inputs = case.inputs(n, np.random.default_rng(3))
    return side_by_side(lambda: case.ours(*inputs), lambda: case.plain(*inputs), n_turns=n_turns)


def main() -> None:
    """Measure what is asked for and say what is not as wanted."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--values", type=int, default=10_000_000)
    asked.add_argument("--turns", type=int, default=3)
    asked.add_argument("--only", default=",".join(CASES))
    options = asked.parse_args()
    heading(f"Charts on {options.values:,} values", "tests.benchmarks.charts")
    failed = [name for name in options.only.split(",")
              if not measure(name, options.values, options.turns)]
    say(f"not as wanted: {', '.join(failed) or 'none'}")


if __name__ == "__main__":
    main()
