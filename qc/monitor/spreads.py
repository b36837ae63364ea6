"""How much honest levels of this shop differ, each judged by rates that leave it out."""

from __future__ import annotations

import numpy as np

from qc.monitor.dispersion import (
    DEFAULT_SD,
    FITTED_SD,
    JOB_GRID_SD,
    JOB_OUTLIER_SHARE,
    LEAST_JOB_SD,
    between_levels_sd,
)
from qc.monitor.effects import LEAST_MEAN
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.factors import FACTORS, LOT_FACTORS
from qc.monitor.streams import StreamCounts
from qc.monitor.usual import left_out
from qc.monitor.windows import Spread


def spread_of(state: StreamCounts) -> Spread:
    """How much jobs, and the levels of each factor, honestly differ, from what the usual rates were
    fitted to."""
    sd = DEFAULT_SD | FITTED_SD
    all_luck = sd["job"] = _job_sd(state)
    fitted = np.flatnonzero(state.rate_at > 0)
    seen, mean, variance = _own_counts(state, fitted, sd["job"])
    for f, name in enumerate(FACTORS):
        mine = state.row_factor[fitted] == f
        if name not in FITTED_SD and mine.any():
            sd[name] = between_levels_sd(
                seen[mine], mean[mine], variance[mine], default=DEFAULT_SD[name]
            )
    # the lots of a job are part of its luck, but they clump by themselves
    of_lots = sum(sd[name] ** 2 for name in LOT_FACTORS)
    sd["job"] = float(np.sqrt(max(all_luck**2 - of_lots, LEAST_JOB_SD**2)))
    return Spread(sd=sd)


def _own_counts(state: StreamCounts, rows: Ints, job_sd: float) -> tuple[Floats, Floats, Floats]:
    """Of streams among those the rates were fitted to, (rows, kinds): faults, faults expected by
    the rates without them, and the relative variance of that from job luck and rates."""
    level = state.rate_at[rows]
    rest_n, rest_y = state.rates.rest_n, state.rates.rest_y
    n, seen = rest_n[0] - rest_n[level], (rest_y[0] - rest_y[level]).sum(axis=2)
    expected = n * state.rates.rate[level].transpose(0, 2, 1)
    mean = expected.sum(axis=2)
    upto = state.n_slots - state.base
    inside, squares = (
        array[:, rows, :upto].sum(axis=2).T for array in (state.buffer.expected, state.buffer.clump)
    )
    variance = job_sd**2 * squares / np.maximum(inside, 1e-9) ** 2
    variance *= np.minimum(inside / np.maximum(mean, 1e-9), 1.0)  # the longer, the more jobs
    at, kind = np.nonzero(mean > LEAST_MEAN)
    share = expected[at, kind] / mean[at, kind, None]
    variance[at, kind] += state.rate_doubt(rows[at], kind).of_mix(share)
    return seen, mean, variance


def _job_sd(state: StreamCounts) -> float:
    """How much jobs differ beyond what they are made of, from those in the buffer.

    Each job is judged by rates that it did not help to fit.
    """
    b, usual = state.blocks, state.usual
    if usual is None:
        return DEFAULT_SD["job"]
    every = np.flatnonzero(b.pressed < state.first_judged())
    _, job = np.unique(b.job[every], return_inverse=True)
    n_jobs = int(job.max(initial=-1)) + 1
    shop, n_kinds = int(state.row_factor[state.shop_row]), len(state.kinds)
    seen, mean, variance = (np.zeros((n_jobs, n_kinds)) for _ in range(3))
    for kind in range(n_kinds):
        expected = state.block_expected(every, kind, shop)
        doubt = usual.cell_variance[kind, b.cell[every]]
        seen[:, kind] = sum_by(job, b.y[every, kind], n_jobs)
        mean[:, kind] = sum_by(job, expected, n_jobs)
        variance[:, kind] = sum_by(job, expected * doubt, n_jobs)
    doubt = variance / np.maximum(mean, 1e-9)
    leverage = np.minimum(mean * doubt, 0.9)
    return between_levels_sd(
        seen, left_out(seen, mean, leverage), doubt / (1.0 - leverage), default=DEFAULT_SD["job"],
        outlier_share=JOB_OUTLIER_SHARE, grid=JOB_GRID_SD,
    )
