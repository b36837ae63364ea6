"""Where what is set lies about its target, and whether that moves from day to day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from qc.domain.recipes import NAMED_QUANTITIES, SettingDrift
from qc.presses.recipes import Bools, Floats, Ints
from qc.presses.settings_judged import Judged
from qc.presses.settings_parts import TOLD, Work
from qc.stats.change.trend import mann_kendall, theil_sen
from qc.stats.comparing.discovery import benjamini_hochberg

FEWEST_DAYS = 5
"""Fewer days cannot give a 95 % distribution-free interval of a slope."""
NOT_SET_BY_HAND = (*NAMED_QUANTITIES, "actual_temperature_c")
"""Names do not move; the actual temperature moves with its surveys, whose drift is told by
`qc.presses.drift`."""
MIDDLE = (0.05, 0.5, 0.95)


def middles(
    off: Floats, told: Bools, work: Work
) -> dict[int, tuple[float | None, float | None, float | None]]:
    """Ends and median of the middle 90 % of a distance from its target, by press."""
    return {
        press: (float(found[0]), float(found[1]), float(found[2]))
        for press, found in _quantiles(off, told, work.press.codes, work.n, MIDDLE).items()
    }


def _quantiles(
    value: Floats, chosen: Bools, group: Ints, weight: Ints, at: Sequence[float]
) -> dict[int, Floats]:
    """Quantiles of the chosen values by group; a block counts as its pieces."""
    rows = np.flatnonzero(chosen & ~np.isnan(value))
    rows = rows[np.argsort(value[rows], kind="stable")]
    rows = rows[np.argsort(group[rows], kind="stable")]
    mine = group[rows]
    cuts = np.flatnonzero(np.diff(mine)) + 1
    starts = np.r_[0, cuts] if len(rows) else np.zeros(0, dtype=np.int64)
    ends = np.r_[cuts, len(rows)]
    return {
        int(mine[a]): weighted_quantiles(value[rows[a:b]], weight[rows[a:b]], at)
        for a, b in zip(starts.tolist(), ends.tolist(), strict=False)
    }


def weighted_quantiles(rising: Floats, weight: Ints, at: Sequence[float]) -> Floats:
    """Quantiles of values in rising order, each as often as its whole weight says.

    Source
    ------
    Hyndman & Fan (1996), The American Statistician 50, 361-365, definition 2: the inverse of the
    empirical distribution, with the mean of both neighbours at a step.
    """
    total = np.cumsum(weight)
    wanted = np.asarray(at) * total[-1]
    lower = np.searchsorted(total, wanted, side="left")
    upper = np.minimum(np.searchsorted(total, wanted, side="right"), len(rising) - 1)
    return (rising[lower] + rising[upper]) / 2


def drifts_of(
    judged: Mapping[str, Judged], work: Work, recipe_at: Ints
) -> dict[tuple[str, str], SettingDrift]:
    """How what is set moves, by press and quantity, from the medians of days.

    Where a new version of a recipe came in, its target stepped: pieces of that fabric and transfer
    are left out, since a step is no drift of what people set.
    """
    steady = _one_version(work.pair, recipe_at)
    found: dict[tuple[str, str], SettingDrift] = {}
    p_values = []
    for name, one in judged.items():
        if name in NOT_SET_BY_HAND:
            continue
        for press, (day, median) in _daily(one, work, steady).items():
            if len(day) < FEWEST_DAYS:
                continue
            slope = theil_sen(day, median)
            found[work.press.levels[press], name] = SettingDrift(
                per_day=slope.slope, low=slope.low, high=slope.high, n_days=len(day),
                stands_out=False)
            p_values.append(mann_kendall(median).p_value)
    beyond_chance = benjamini_hochberg(p_values).stands_out.tolist()
    return {
        key: replace(drift, stands_out=bool(said) and (drift.low > 0 or drift.high < 0))
        for (key, drift), said in zip(found.items(), beyond_chance, strict=True)
    }


def _one_version(pair: Ints, recipe_at: Ints) -> Bools:
    """Pieces whose fabric and transfer went by one version of their recipe all the time."""
    pairs, where = np.unique(pair, return_inverse=True)
    first, last = np.full(len(pairs), np.iinfo(np.int64).max), np.full(len(pairs), -1)
    np.minimum.at(first, where, recipe_at)
    np.maximum.at(last, where, recipe_at)
    return (first == last)[where]


def _daily(judged: Judged, work: Work, steady: Bools) -> dict[int, tuple[Floats, Floats]]:
    """Days and the median of each at every press."""
    if not len(work.day):
        return {}
    first = int(work.day.min())
    n_days = int(work.day.max()) - first + 1
    cells = work.press.codes * n_days + (work.day - first)
    medians = _quantiles(judged.off, TOLD[judged.state] & steady, cells, work.n, (0.5,))
    out: dict[int, tuple[list[float], list[float]]] = {}
    for cell, median in medians.items():
        days, values = out.setdefault(cell // n_days, ([], []))
        days.append(float(cell % n_days))
        values.append(float(median[0]))
    return {press: (np.array(days), np.array(values)) for press, (days, values) in out.items()}
