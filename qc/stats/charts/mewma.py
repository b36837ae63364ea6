"""Multivariate EWMA: small lasting shifts of several measurements judged together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import lfilter
from scipy.special import chdtrc

from qc.stats.charts.baselines import BaselineLike
from qc.stats.charts.chart import ControlChart, make_chart
from qc.stats.charts.ewma import LIMITS, carried_on, squared_weights
from qc.stats.charts.multivariate import Law, T2Breakdown, broken_down
from qc.stats.charts.vectors import KnownVectors, Vectors, plotted_vectors, squared_distances
from qc.stats.checks import Floats, positive, read_only
from qc.stats.runlength.mewma import USUAL_ARL, mewma_decision

SOURCE = (
    "ISO 7870-7:2020, multivariate control charts; Lowry, Woodall, Champ and Rigdon (1992),"
    " Technometrics 34, 46-53"
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MewmaChart(ControlChart):
    """A multivariate EWMA with what it was made from.

    ``weight`` : lambda. ``decision`` : the limit. ``smoothed`` : (k, p), the EWMA of each
    variable in its own unit, read-only. ``variance`` : variance of a smoothed point in that of
    a single row; one number where it is constant. ``vectors`` : points, mean and covariance.
    """

    weight: float
    decision: float
    smoothed: Floats
    variance: Floats | float
    vectors: Vectors

    @property
    def alpha(self) -> float:
        """Chance that a point in control, looked at by itself, lies beyond the limit."""
        return float(chdtrc(self.vectors.n_variables, self.decision))


def mewma_chart(
    values: npt.ArrayLike, *, subgroup: npt.ArrayLike | None = None, weight: float = 0.1,
    decision: float | None = None, in_control_arl: float = USUAL_ARL, limits: str = "exact",
    baseline: BaselineLike = None, mean: npt.ArrayLike | None = None,
    covariance: npt.ArrayLike | None = None,
) -> MewmaChart:
    """Multivariate EWMA of single rows or of subgroup means.

    Parameters
    ----------
    values : (n, p), rows of p variables in time order, finite, p up to 100
    subgroup : label of each row's subgroup; subgroups are plotted in order of first appearance
    weight : lambda, weight of the newest point, inside (0, 1]
    decision : limit of the statistic, above 0; None: the one that gives ``in_control_arl``
    in_control_arl : wanted average run length without a change, above 1
    limits : covariance of the smoothed point: 'exact' (grows from the start) or 'steady'
    baseline : plotted points that estimates come from, first and last or a `Baseline`; all
    mean, covariance : known (p) and (p, p) instead of estimates; covariance of a single row

    Returns
    -------
    MewmaChart with "MEWMA": centre line p, no lower limit, upper limit the decision limit.

    Raises
    ------
    ValueError
        An argument is outside its range, named with its value; too few points for so many
        variables; a variable that does not vary or follows from others.

    Notes
    -----
    z_i = weight x_i + (1 - weight) z_(i-1), z_0 the mean; the statistic is
    (z_i - m)' (v_i S)^-1 (z_i - m). v_i follows the recursion with squared weights, so it is
    exact for unequal sizes too. S is pooled within subgroups; of single rows it comes from the
    steps between neighbours, so that the shift to be found does not widen it. The decision limit
    is computed by the integral equation for independent normal points whose mean and covariance
    are known, of equal sizes; estimates from few points make false signals more frequent.

    Source
    ------
    Lowry et al. (1992), Technometrics 34, 46-53; limit: Rigdon (1995), J. Statistical
    Computation and Simulation 52, 351-365. Checked against the printed statistics of the paper's
    ten points and the limits of Prabhu and Runger (1997), J. Quality Technology 29, 8-15.
    """
    if not 0 < weight <= 1:
        raise ValueError(f"weight is {weight:g}; it must be inside (0, 1]")
    if limits not in LIMITS:
        raise ValueError(f"limits is {limits!r}; allowed: {', '.join(LIMITS)}")
    vectors = plotted_vectors(values, subgroup, KnownVectors(mean=mean, covariance=covariance),
                              baseline, from_steps=True)
    limit = positive("decision", decision) if decision is not None else mewma_decision(
        float(in_control_arl), n_variables=vectors.n_variables, weight=weight, limits=limits)
    n = len(vectors.points)
    variance = carried_on(squared_weights(vectors.size, n, weight, exact=limits == "exact"), n)
    smooth = _smoothed(vectors, weight)
    value = squared_distances(smooth, vectors.mean, vectors.covariance)
    value /= variance
    chart = make_chart("MEWMA", vectors.n_variables, value, np.nan, limit)
    return MewmaChart(
        kind="mewma", source=f"{SOURCE}, {limits} covariance", sigma=None, charts=(chart,),
        baseline=vectors.baseline, cautions=vectors.cautions, weight=weight, decision=limit,
        smoothed=read_only(smooth), variance=variance, vectors=vectors,
    )


def mewma_breakdown(chart: MewmaChart, at: int) -> T2Breakdown:
    """Which variables make the statistic of one point large, as `t2_breakdown` of smoothed values.

    Notes
    -----
    ``off`` is the distance of the smoothed value, in the unit of the variable. Shares in control
    are those of one point looked at by itself, as if mean and covariance were known.

    Raises
    ------
    ValueError
        There is no such point.
    """
    k = len(chart.smoothed)
    if not 1 <= at <= k:
        raise ValueError(f"at is {at}; it must be inside 1..{k}")
    variance = np.broadcast_to(chart.variance, k)[at - 1]
    return broken_down(at, chart.smoothed[at - 1] - chart.vectors.mean,
                       variance * chart.vectors.covariance,
                       Law(scale=1.0, degrees=np.inf, seen=False))


def _smoothed(vectors: Vectors, weight: float) -> Floats:
    smooth = np.empty_like(vectors.points)
    for j, centre in enumerate(vectors.mean.tolist()):
        smooth[:, j], _ = lfilter([weight], [1, weight - 1], vectors.points[:, j],
                                  zi=[(1 - weight) * centre])
    return smooth
