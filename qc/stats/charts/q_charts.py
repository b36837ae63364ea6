"""Q charts: values or counts of short runs as normal scores, from the first pieces on."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.special import ndtri, stdtr
from scipy.stats import binom, hypergeom, poisson

from qc.stats.blocks import blocks
from qc.stats.charts.chart import Caution, ControlChart, make_chart
from qc.stats.charts.parts import each_label, each_number, parts_of
from qc.stats.charts.rules import patterns_on, rule_cautions, rule_set
from qc.stats.checks import (
    Floats,
    finite_array,
    inside_unit,
    positive,
    refuse_where,
    same_length,
    whole_array,
)

SOURCE = "Quesenberry (1991), J. Quality Technology 23(3), 213-224: Q chart"
SOURCE_OF_COUNTS = (
    "Quesenberry (1991), J. Quality Technology 23, 239-246 and 296-303: Q charts of counts"
)
STEPS = {"middle": 0.5, "whole": 1.0}
"""Share of a count's own chance that lies below it."""

_FAINTEST = 5e-324  # a chance below this is 0 to the machine: Q ends at 38


def q_chart(
    values: npt.ArrayLike, *, part: npt.ArrayLike | None = None,
    centre: npt.ArrayLike | None = None, sigma: npt.ArrayLike | None = None,
    rules: str = "limits",
) -> ControlChart:
    """Single values of one or many parts as normal scores, each judged by those before it.

    Parameters
    ----------
    values : finite values in time order, any unit
    part : label of each value's part; each part is judged by its own values alone
    centre, sigma : known mean and standard deviation, one number or one for each value (the same
        for all of a part); None: learnt from the values before
    rules : as `qc.stats.charts.rules.rule_set` takes them

    Returns
    -------
    ControlChart with "Q statistic": limits -3 and 3 around 0. It begins at the first point that
    has one: the first where both are known, the second where one is, else the third; later on a
    part's first values have none (nan), as has a value after none that varied.

    Raises
    ------
    ValueError
        A value is not finite, sigma not above 0, lengths differ, or no value has a Q.

    Notes
    -----
    With known values Q = (x - mean) / sigma. Else, of the r-th value, with mean and s of the
    r - 1 before it: sqrt((r-1)/r) (x - mean) / sigma; or the normal score of Student's t of
    (x - centre) / s (s about the centre, r - 1 degrees of freedom); or of
    sqrt((r-1)/r) (x - mean) / s (r - 2). In control the Q of normal values are independent and
    standard normal from the start. A change soon after the start is learnt as if it belonged: it
    shows for a few points or not at all.

    Source
    ------
    Quesenberry (1991), J. Quality Technology 23(3), 213-224 (formulas from memory).
    """
    x = finite_array("values", values)
    if centre is not None:
        x -= each_number("centre", centre, x)
    if sigma is not None:
        unit = each_number("sigma", sigma, x)
        refuse_where("sigma", unit, unit <= 0, "numbers above 0")
        x /= unit
    score, n_first = _SCORES[centre is not None, sigma is not None]
    q, n_of_part = _by_part(score, part, x)
    n_silent = np.isnan(q).sum() - np.minimum(n_of_part, n_first).sum()
    return _plotted("q", q, SOURCE, rules, more=(Caution.NOTHING_VARIED,) * bool(n_silent))


def q_share_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, part: npt.ArrayLike | None = None,
    centre: float | None = None, step: str = "middle", rules: str = "limits",
) -> ControlChart:
    """Nonconforming pieces of short runs as normal scores, each sample judged by those before.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected, one for each sample
    n_inspected : whole pieces, 1 and up
    part : label of each sample's part; each part is judged by its own samples alone
    centre : known share, inside (0, 1); None: learnt from the samples before
    step : 'middle': half the chance of the count itself lies below it; 'whole': all of it, as in
        the source, where the most that can be counted has no finite Q (it is cut at 38)
    rules : as `qc.stats.charts.rules.rule_set` takes them

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, an option is out of range, or no
        sample has a Q (the first of a part has none where the share is learnt).

    Notes
    -----
    Q is the normal score of the chance of a lower count: binomial with a known share, else
    hypergeometric, given all defects so far. With the whole step a sample without a defect may
    lie far above 0 where defects are rare; the middle keeps it near 0, and its Q vary a little
    less than standard normal ones.

    Source
    ------
    Quesenberry (1991), J. Quality Technology 23(3), 239-246 (formulas from memory).
    """
    d = whole_array("n_defective", n_defective)
    n = whole_array("n_inspected", n_inspected, low=1)
    same_length("n_defective", d, "n_inspected", n)
    refuse_where("n_defective", d, d > n, "0 to the number inspected")
    if centre is not None:
        return _counted("q-p", d, binom(n, inside_unit("centre", centre)), step, rules)
    below, _ = _by_part(_before, part, n)
    total, _ = _by_part(np.cumsum, part, d)
    return _counted("q-p", d, hypergeom(below + n, total, n), step, rules, below > 0)


def q_rate_chart(
    n_defects: npt.ArrayLike, n_units: npt.ArrayLike, *, part: npt.ArrayLike | None = None,
    centre: float | None = None, step: str = "middle", rules: str = "limits",
) -> ControlChart:
    """Nonconformities of short runs as normal scores, each sample judged by those before.

    Parameters
    ----------
    n_defects : whole, 0 and up, one for each sample
    n_units : area of opportunity (pieces, metres, hours), above 0
    centre : known rate per unit, above 0; None: learnt from the samples before
    part, step, rules : as for `q_share_chart`

    Raises
    ------
    ValueError
        As for `q_share_chart`.

    Notes
    -----
    Poisson with a known rate; else binomial: given all defects so far, each falls in the newest
    sample with its share of the units so far.

    Source
    ------
    Quesenberry (1991), J. Quality Technology 23(4), 296-303 (formulas from memory).
    """
    c = whole_array("n_defects", n_defects)
    n = finite_array("n_units", n_units)
    same_length("n_defects", c, "n_units", n)
    refuse_where("n_units", n, n <= 0, "numbers above 0")
    if centre is not None:
        return _counted("q-u", c, poisson(positive("centre", centre) * n), step, rules)
    below, _ = _by_part(_before, part, n)
    total, _ = _by_part(np.cumsum, part, c)
    return _counted("q-u", c, binom(total, n / (below + n)), step, rules, below > 0)


def _by_part(
    score: Callable[[Floats], Floats], part: npt.ArrayLike | None, x: Floats
) -> tuple[Floats, npt.NDArray[np.int64]]:
    """A running figure of each value among those of its part; and the values of each part."""
    if part is None:
        return score(x), np.array([len(x)])
    parts = parts_of(each_label("part", part, x))
    scores = np.empty(len(x))
    for start, n in zip(parts.starts, parts.n, strict=True):
        at = parts.order[start:start + n]
        scores[at] = score(x[at])
    return scores, parts.n


def _both_known(z: Floats) -> Floats:
    return z


def _mean_unknown(x: Floats) -> Floats:
    q = _from_mean_before(x)
    q[0] = np.nan
    return q


def _sigma_unknown(off: Floats) -> Floats:
    return _studentised(off.copy(), 0)


def _both_unknown(x: Floats) -> Floats:
    return _studentised(_from_mean_before(x), 1)


_SCORES: dict[tuple[bool, bool], tuple[Callable[[Floats], Floats], int]] = {
    (True, True): (_both_known, 0), (False, True): (_mean_unknown, 1),
    (True, False): (_sigma_unknown, 1), (False, False): (_both_unknown, 2),
}
"""By whether centre and sigma are known: the score, and how many first values have none."""


def _from_mean_before(x: Floats) -> Floats:
    """sqrt((r-1)/r) times each value's distance from the mean of those before; 0 for the first.

    Their squares add up to the sum of squares about the mean, without cancelling.
    """
    off, total = x - x[0], 0.0
    for at in blocks(len(off)):
        own, n_before = off[at], np.arange(at.start, at.stop, dtype=np.float64)
        before = _before(own, total)
        total = before[-1] + own[-1]
        own -= before / np.maximum(n_before, 1)
        own *= np.sqrt(n_before / (n_before + 1))
    return off


def _studentised(off: Floats, n_lost: int) -> Floats:
    """Normal scores of each value over the root mean square of those before; in place."""
    total = 0.0
    for at in blocks(len(off)):
        own, free = off[at], np.arange(at.start, at.stop, dtype=np.float64) - n_lost
        squares = own * own
        before = _before(squares, total)
        total = before[-1] + squares[-1]
        own /= np.sqrt(np.where(before > 0, before, np.nan) / np.maximum(free, 1))
        own[:] = np.copysign(ndtri(_some(stdtr(np.maximum(free, 1), -np.abs(own)))), own)
    return off


def _before(values: Floats, total: float = 0.0) -> Floats:
    """The sum of the values before each one, and of what came before them all."""
    sums = np.empty(len(values))
    sums[0] = total
    np.cumsum(values[:-1], out=sums[1:])
    sums[1:] += total
    return sums


def _counted(
    kind: str, count: Floats, chances: Any, step: str, rules: str,
    known: npt.NDArray[np.bool_] | None = None,
) -> ControlChart:
    """A chart of counts by their distributions; no Q where one is not ``known`` yet."""
    if step not in STEPS:
        raise ValueError(f"step is {step!r}; allowed: {', '.join(STEPS)}")
    itself = chances.pmf(count)
    below = chances.cdf(count - 1) + STEPS[step] * itself
    above = chances.sf(count) + (1 - STEPS[step]) * itself
    q = np.where(below < above, ndtri(_some(below)), -ndtri(_some(above)))
    q += 0.0  # a score of -0 is 0
    if known is not None:
        q[~known] = np.nan
    return _plotted(kind, q, SOURCE_OF_COUNTS, rules, more=rule_cautions(kind, rule_set(rules)))


def _some(chance: Floats) -> Floats:
    return np.maximum(chance, _FAINTEST)


def _plotted(
    kind: str, q: Floats, source: str, rules: str, more: tuple[Caution, ...]
) -> ControlChart:
    asked = rule_set(rules)
    there = ~np.isnan(q)
    if not there.any():
        raise ValueError("values has no point with a Q: what is not known is learnt from a part's"
                         " first value, or two, and they must vary")
    q = q[np.argmax(there):]
    chart = make_chart("Q statistic", 0.0, q, -3.0, 3.0, first_at=int(np.argmax(there)) + 1,
                       patterns=patterns_on(q, 0.0, 1.0, asked))
    return ControlChart(
        kind=kind, source="; ".join(filter(None, (source, asked.source))), sigma=None,
        charts=(chart,), baseline=None, cautions=more,
    )
