from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.counts import rates, shares
from qc.stats.charts.laney import p_prime_chart, u_prime_chart
from qc.stats.charts.rare_events import g_chart, t_chart
from qc.stats.charts.shewhart_counts import c_chart, np_chart, p_chart, u_chart

N = 400_000
LEFT_OUT = Baseline(first=2, last=N, excluded=(Excluded(at=70_000, reason="power cut"),))


def _counted() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(21)
    n = rng.integers(80, 120, N)
    return rng.binomial(n, 0.05), n


@pytest.mark.parametrize("baseline", [None, (3, 2 * N // 3), LEFT_OUT])
@pytest.mark.parametrize("counted", [shares, rates])
def test_dispersion_of_many_samples_is_that_of_one_plain_pass(counted, baseline) -> None:
    found = counted(*_counted(), centre=None, baseline=baseline)
    at = found.base.at
    wanted = ((found.value[at] - found.centre) ** 2 * found.size[at] / found.variance).sum()
    assert found.dispersion() == pytest.approx(wanted, rel=1e-10)
    # chi-square has its degrees of freedom as mean; a share of 0.05 varies 0.95 of a Poisson rate
    assert found.dispersion() / found.base.n == pytest.approx(
        1 if counted is shares else 0.95, abs=0.01)


TWO_COLUMNS = (p_chart, p_prime_chart, u_chart, u_prime_chart, np_chart)
PLAIN = (p_chart, np_chart, u_chart, c_chart, g_chart)
CALLS = [
    *((chart, {}) for chart in (*PLAIN, p_prime_chart, u_prime_chart, t_chart)),
    *((chart, {"limits": "probability"}) for chart in (*PLAIN, t_chart)),
    *((chart, {"baseline": LEFT_OUT}) for chart in PLAIN),
]


@pytest.mark.parametrize(("chart", "options"), CALLS)
def test_a_chart_takes_at_most_six_arrays(chart, options) -> None:
    tracemalloc.start()
    try:
        d, n = (column.astype(np.float64) for column in _counted())
        if chart is np_chart:
            n[:] = 130
        columns = (d, n) if chart in TWO_COLUMNS else (d,)
        del d, n
        tracemalloc.reset_peak()
        chart(*columns, **options)
        arrays = tracemalloc.get_traced_memory()[1] / (8 * N)
    finally:
        tracemalloc.stop()
    assert arrays <= 6.5  # 6, and the pieces a pass keeps in the cache, which weigh at this length
