"""One run length of an EWMA or a CUSUM beside the plainest Markov chain of the same chart.

    python -m tests.benchmarks.run_lengths [--turns 9]

Plain means the chain of Brook & Evans (1972), Biometrika 59, 539-549, with 101 states and nothing
but its mean; ours gives six digits of the mean, the spread and the percentiles. Wanted: each of
ours within 50 ms.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

import numpy as np
from scipy.stats import norm

from qc.stats.runlength.cusum import cusum_run_length
from qc.stats.runlength.ewma import ewma_run_length
from tests.benchmarks.measuring import heading, say, side_by_side, verdict

WANTED_MS = 50.0
N_STATES = 101
PLANS: dict[str, Callable[[], object]] = {
    "EWMA": lambda: ewma_run_length(0.0),
    "EWMA, small weight": lambda: ewma_run_length(0.5, weight=0.02, width=2.5),
    "EWMA, exact limits": lambda: ewma_run_length(0.0, weight=0.1, width=2.7, limits="exact"),
    "EWMA in use": lambda: ewma_run_length(1.0, state="steady"),
    "CUSUM": lambda: cusum_run_length(0.0),
    "CUSUM, head start": lambda: cusum_run_length(0.5, head_start=2.5),
    "CUSUM, high decision": lambda: cusum_run_length(0.0, reference=0.1, decision=20),
    "CUSUM in use": lambda: cusum_run_length(1.0, state="steady"),
}


def plain_mean(*, weight: float = 0.2, width: float = 2.7, shift: float = 0.0) -> float:
    """Mean run length of an EWMA that starts at its centre."""
    limit = width * np.sqrt(weight / (2.0 - weight))
    edges = np.linspace(-limit, limit, N_STATES + 1)
    middle = (edges[1:] + edges[:-1]) / 2
    cuts = norm.cdf((edges[None, :] - (1 - weight) * middle[:, None]) / weight - shift)
    runs = np.linalg.solve(np.eye(N_STATES) - np.diff(cuts, axis=1), np.ones(N_STATES))
    return float(runs[N_STATES // 2])


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--turns", type=int, default=9)
    n_turns = parser.parse_args(arguments).turns
    heading("Run lengths beside a plain chain", "tests.benchmarks.run_lengths")
    worst = 0.0
    for name, plan in PLANS.items():
        plan()
        figures = side_by_side(plan, plain_mean, n_turns=n_turns)
        say(f"  {name}: {1000 * figures.ours_s:.1f} ms, plain {1000 * figures.plain_s:.1f} ms, "
            f"ratio {figures.ratio:.1f} ({figures.ratio_low:.1f} to {figures.ratio_high:.1f})")
        worst = max(worst, 1000 * figures.ours_s)
    return 0 if verdict("milliseconds, the slowest", worst, at_most=WANTED_MS) else 1


if __name__ == "__main__":
    raise SystemExit(main())
