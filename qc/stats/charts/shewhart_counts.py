"""Charts of counts: nonconforming pieces (p, np) and nonconformities (u, c), exact limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import blocks
from qc.stats.charts.baselines import BaselineLike, base_points
from qc.stats.charts.chart import Caution, ControlChart, make_chart
from qc.stats.charts.counts import (
    Counted,
    known_rate,
    nonconforming,
    rates,
    shares,
    spread_cautions,
    three_sigma,
)
from qc.stats.charts.probability_limits import (
    ALPHA,
    Band,
    binomial_limits,
    poisson_limits,
    tail_chance,
)
from qc.stats.charts.rules import RuleSet, patterns_on, rule_cautions, rule_set
from qc.stats.checks import Floats, refuse_where, whole_array

SOURCE = "ISO 7870-2:2013, {} chart with the limits of each sample's own size"
EXACT_TAILS = "limits from exact {} tails: a chance of at most {:g} beyond each"
ENOUGH_EXPECTED = 5
"""Fewer expected and three-sigma limits mislead; rule of thumb, common practice, no source.

At 5 a Poisson count lies above its limit with chance 0.0055, four times what three sigma means.
"""


def p_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", limits: str = "sigma",
    alpha: float = ALPHA,
) -> ControlChart:
    """Share of nonconforming pieces in samples of any size.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected, one for each sample
    n_inspected : whole pieces, 1 and up
    centre : known share, 0..1, instead of the pooled share of the baseline
    baseline : samples the centre comes from, first and last or a `Baseline`; all samples
    rules : as `qc.stats.charts.rules.rule_set` takes them
    limits : ``sigma`` or ``probability``
    alpha : chance of a point beyond either limit, both together; for ``probability``

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, or an option is out of range.

    Notes
    -----
    ``sigma``: p-bar +- 3 sqrt(p-bar (1 - p-bar) / n_i), cut at 0 and 1; a caution says where too
    few are expected for that. ``probability``: the upper limit is the smallest share d / n_i
    whose chance of a larger one is at most alpha / 2, the lower limit the largest whose chance of
    a smaller one is at most alpha / 2, both binomial with p-bar; a share on a limit does not
    signal. Counts come in steps, so the chance reached is mostly below alpha / 2. Where less than
    alpha / 2 of samples have any nonconforming piece, the upper limit is 0, below p-bar. Other
    rules stay in sigma. Pieces must fail independently; a caution says when shares vary more or
    less than that allows.

    Source
    ------
    ISO 7870-2:2013, p chart. Checked against Montgomery & Runger, Example 16-4, and Ishikawa,
    Guide to Quality Control, pp. 77-79; probability limits against scipy.
    """
    counted = shares(n_defective, n_inspected, centre=centre, baseline=baseline)
    return _count_chart(
        "p", "fraction nonconforming", counted, rules=rule_set(rules),
        tails=_tails("binomial", tail_chance(limits, alpha),
                     lambda n, tail: binomial_limits(n, counted.centre, tail=tail)),
    )


def np_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", limits: str = "sigma",
    alpha: float = ALPHA,
) -> ControlChart:
    """Number of nonconforming pieces in samples of one size; as `p_chart`, times the size.

    ``centre`` is a known mean number a sample, 0..n.

    Raises
    ------
    ValueError
        As for `p_chart`, or sizes differ (one centre line would not fit them all).
    """
    d, size = nonconforming(n_defective, n_inspected)
    n = float(size[0])
    refuse_where("n_inspected", size, size != size[0],
                 f"one size for all samples, as {n:g} at the first; use a p chart for unequal"
                 " sizes")
    base = base_points(baseline, len(d))
    middle = float(d[base.at].mean()) if centre is None else float(centre)
    if not 0 <= middle <= n:
        raise ValueError(f"centre is {middle:g}; it must be a number of pieces, 0..{n:g}")
    counted = Counted(value=np.array(d, dtype=np.float64), size=1.0, centre=middle,
                      variance=middle * (1 - middle / n), most=n, base=base,
                      known=centre is not None)
    return _count_chart(
        "np", "number nonconforming", counted, rules=rule_set(rules),
        tails=_tails("binomial", tail_chance(limits, alpha),
                     lambda _, tail: binomial_limits(n, middle / n, tail=tail)),
    )


def u_chart(
    n_defects: npt.ArrayLike, n_units: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", limits: str = "sigma",
    alpha: float = ALPHA,
) -> ControlChart:
    """Nonconformities per unit in samples of any size.

    Parameters
    ----------
    n_defects : whole, 0 and up, one for each sample
    n_units : area of opportunity (pieces, metres, hours), above 0
    centre, baseline, rules, limits, alpha : as for `p_chart`; the centre is 0 and up

    Raises
    ------
    ValueError
        A count is not whole, a size not above 0, lengths differ, or an option is out of range.

    Notes
    -----
    ``sigma``: u-bar +- 3 sqrt(u-bar / n_i), cut at 0. ``probability``: as for `p_chart`, with the
    Poisson tails of n_i u-bar. Nonconformities must be rare and independent.

    Source
    ------
    ISO 7870-2:2013, u chart. Checked against Montgomery & Runger, Example 16-5, and Ishikawa,
    Guide to Quality Control, pp. 81-83; probability limits against scipy.
    """
    counted = rates(n_defects, n_units, centre=centre, baseline=baseline)
    return _count_chart(
        "u", "nonconformities per unit", counted, rules=rule_set(rules),
        tails=_tails("Poisson", tail_chance(limits, alpha),
                     lambda n, tail: poisson_limits(n * counted.centre, tail=tail)),
    )


def c_chart(
    n_defects: npt.ArrayLike, *, centre: float | None = None,
    baseline: BaselineLike = None, rules: str = "limits", limits: str = "sigma",
    alpha: float = ALPHA,
) -> ControlChart:
    """Number of nonconformities in samples of one size; c-bar +- 3 sqrt(c-bar), cut at 0.

    Parameters, errors, probability limits and source as for `u_chart`. Checked against
    NIST/SEMATECH e-Handbook, 6.3.3.1.
    """
    c = whole_array("n_defects", n_defects)
    base = base_points(baseline, len(c))
    middle = float(c[base.at].mean()) if centre is None else known_rate(centre)
    counted = Counted(value=c, size=1.0, centre=middle, variance=middle, most=np.inf, base=base,
                      known=centre is not None)
    return _count_chart(
        "c", "number of nonconformities", counted, rules=rule_set(rules),
        tails=_tails("Poisson", tail_chance(limits, alpha),
                     lambda _, tail: poisson_limits(middle, tail=tail)),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Tails:
    """Exact limits of the count in samples of given sizes, and the chance beyond each."""

    law: str
    chance: float
    band: Callable[[Any, float], Band]

    def limits(self, size: Any) -> tuple[Floats | float, Floats | float]:
        """Limits of count over size at each point, worked out once for each size of a block."""
        if np.ptp(size) == 0:
            one = np.atleast_1d(size)[:1]
            band = self.band(one, self.chance)
            return float(band.lower[0] / one[0]), float(band.upper[0] / one[0])
        lower, upper = np.empty(len(size)), np.empty(len(size))
        for at in blocks(len(size)):
            sizes, which = np.unique(size[at], return_inverse=True)
            band = self.band(sizes, self.chance)
            lower[at], upper[at] = (band.lower / sizes)[which], (band.upper / sizes)[which]
        return lower, upper


def _tails(
    law: str, chance: float | None, band: Callable[[Any, float], Band]
) -> _Tails | None:
    return None if chance is None else _Tails(law=law, chance=chance, band=band)


def _count_chart(
    kind: str, name: str, counted: Counted, *, rules: RuleSet, tails: _Tails | None
) -> ControlChart:
    source = [SOURCE.format(kind), rules.source]
    if tails is None:
        lower, upper, patterns = three_sigma(counted, rules)
    else:
        patterns = patterns_on(counted.value, counted.centre, counted.sigma(), rules)
        lower, upper = tails.limits(counted.size)
        source.insert(1, EXACT_TAILS.format(tails.law, tails.chance))
    chart = make_chart(name, counted.centre, counted.value, lower, upper, patterns=patterns)
    return ControlChart(
        kind=kind, source="; ".join(filter(None, source)), sigma=None, charts=(chart,),
        baseline=counted.baseline,
        cautions=_cautions(counted, normal=tails is None) + rule_cautions(kind, rules),
    )


def _cautions(counted: Counted, *, normal: bool) -> tuple[Caution, ...]:
    found = spread_cautions(counted, estimated=not counted.known)
    if normal and 0 < counted.least_expected < ENOUGH_EXPECTED:
        found += (Caution.SMALL_COUNTS,)
    return found
