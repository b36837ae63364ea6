"""Charts of counts that vary more than chance alone: p-prime and u-prime."""

from __future__ import annotations

import numpy.typing as npt

from qc.stats.charts.baselines import BaselineLike, BasePoints, base_points
from qc.stats.charts.chart import Caution, ControlChart, make_chart
from qc.stats.charts.constants import d2
from qc.stats.charts.counts import Counted, rates, shares, spread_cautions, three_sigma
from qc.stats.charts.rules import rule_cautions, rule_set
from qc.stats.charts.spread import moving_range_sigma
from qc.stats.checks import Floats, positive

SOURCE = (
    "Laney (2002), Quality Engineering 14, 531-537, {} chart; sigma_z = mean moving range / 1.128"
)
D2_PRINTED = 1.128
"""Factor of the moving range as the method was published; rounded, exact is 1.12838."""


def p_prime_chart(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Share of nonconforming pieces where the true share itself varies from sample to sample.

    Parameters
    ----------
    n_defective : whole pieces, 0..n_inspected, one for each sample in time order
    n_inspected : whole pieces, 1 and up
    centre : known share, 0..1, instead of the pooled share of the baseline
    sigma : known sigma_z, above 0: how many times as wide as chance alone the limits are
    baseline : samples that estimates come from, first and last or a `Baseline`; all samples
    rules : as `qc.stats.charts.rules.rule_set` takes them

    Returns
    -------
    ControlChart whose ``sigma`` is sigma_z; None where nothing, or everything, was counted and
    it cannot be told.

    Raises
    ------
    ValueError
        A count is not whole or out of range, lengths differ, an option is out of range, or the
        baseline holds no two neighbours to estimate sigma_z from.

    Notes
    -----
    z_i = (p_i - p-bar) / sqrt(p-bar (1 - p-bar) / n_i); sigma_z = mean |z_i - z_(i-1)| / 1.128;
    limits p-bar +- 3 sigma_z sqrt(p-bar (1 - p-bar) / n_i), cut at 0 and 1. For large samples,
    where the p chart gives many false signals. It sees what varies between neighbours: a share
    that wanders slowly still signals. With sigma_z 1 it is the p chart.

    Source
    ------
    Laney (2002), Improved control charts for attributes, Quality Engineering 14(4), 531-537.
    """
    counted = shares(n_defective, n_inspected, centre=centre, baseline=baseline)
    return _prime_chart("p-prime", "fraction nonconforming", counted, sigma, rules)


def u_prime_chart(
    n_defects: npt.ArrayLike, n_units: npt.ArrayLike, *, centre: float | None = None,
    sigma: float | None = None, baseline: BaselineLike = None, rules: str = "limits",
) -> ControlChart:
    """Nonconformities per unit where the true rate itself varies from sample to sample.

    ``n_defects`` are whole, 0 and up; ``n_units`` is the area of opportunity, above 0; the
    ``centre`` is a rate, 0 and up. All else, errors and source as for `p_prime_chart`, with
    sqrt(u-bar / n_i) for the spread by chance; limits are cut at 0.
    """
    counted = rates(n_defects, n_units, centre=centre, baseline=baseline)
    return _prime_chart("u-prime", "nonconformities per unit", counted, sigma, rules)


def _prime_chart(
    kind: str, name: str, counted: Counted, sigma: float | None, rules: str
) -> ControlChart:
    wanted = rule_set(rules)
    spread = _estimated(counted) if sigma is None else positive("sigma", sigma)
    lower, upper, patterns = three_sigma(counted, wanted, widened=spread or 0.0)
    chart = make_chart(name, counted.centre, counted.value, lower, upper, patterns=patterns)
    estimated = sigma is None or not counted.known
    return ControlChart(
        kind=kind, source="; ".join(filter(None, (SOURCE.format(kind), wanted.source))),
        sigma=spread, charts=(chart,), baseline=counted.base.baseline if estimated else None,
        cautions=_cautions(counted, None if sigma is not None else spread, estimated)
        + rule_cautions(kind, wanted),
    )


def _estimated(counted: Counted) -> float | None:
    return None if counted.variance == 0 else sigma_z(counted.scores(), counted.base)


def sigma_z(scores: Floats, base: BasePoints | None = None) -> float:
    """How many times as wide as chance alone standardised samples scatter, by moving ranges.

    Parameters
    ----------
    scores : each sample's distance from its centre in its own sigma, in time order
    base : the samples to look at; all

    Raises
    ------
    ValueError
        No two neighbours are among them.

    Source
    ------
    Laney (2002), Quality Engineering 14, 531-537: mean moving range / 1.128.
    """
    wanted = base_points(None, len(scores)) if base is None else base
    return moving_range_sigma(scores, wanted) * d2(2) / D2_PRINTED


def _cautions(counted: Counted, spread: float | None, estimated: bool) -> tuple[Caution, ...]:
    """``spread`` is sigma_z where it was estimated."""
    found = [caution for caution in spread_cautions(counted, estimated=estimated)
             if caution is not Caution.MORE_VARIATION]
    if spread == 0:
        found.append(Caution.NO_VARIATION)
    elif spread is not None and spread < 1:
        found.append(Caution.NARROWED)
    return tuple(found)
