"""Hotelling's T2: several measurements of one piece judged together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import betainc, betaincinv, chdtrc, chdtri, fdtrc

from qc.stats.charts.baselines import BaselineLike
from qc.stats.charts.chart import ControlChart, make_chart
from qc.stats.charts.vectors import KnownVectors, Vectors, plotted_vectors
from qc.stats.checks import Floats, inside_unit, read_only

SOURCE = "ISO 7870-7:2020, multivariate control charts; Hotelling T2"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class T2Chart(ControlChart):
    """A T2 chart with what it was made from.

    ``alpha`` : chance that a point in control lies beyond the limit. ``vectors`` : points, mean
    and covariance.
    """

    alpha: float
    vectors: Vectors


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class T2Breakdown:
    """What each variable adds to the T2 of one point; arrays of p, read-only.

    ``at`` : the point (1-based). ``t2`` : its statistic. ``off`` : distance from the mean, and
    ``off_others`` : distance from what the other variables lead to expect, both in the unit of
    the variable. ``alone`` : the variable's own T2, without the others. ``given_others`` : what
    the variable adds to the T2 of all others. ``p_alone``, ``p_given_others`` : share of points
    in control with at least as much.
    """

    at: int
    t2: float
    off: Floats
    off_others: Floats
    alone: Floats
    given_others: Floats
    p_alone: Floats
    p_given_others: Floats


def t2_chart(
    values: npt.ArrayLike, *, subgroup: npt.ArrayLike | None = None, alpha: float = 0.0027,
    baseline: BaselineLike = None, mean: npt.ArrayLike | None = None,
    covariance: npt.ArrayLike | None = None,
) -> T2Chart:
    """T2 of single rows or of subgroup means, with an exact limit for each point.

    Parameters
    ----------
    values : (n, p), rows of p variables in time order, finite
    subgroup : label of each row's subgroup; subgroups are plotted in order of first appearance
    alpha : chance of a point in control beyond its limit, inside (0, 1)
    baseline : plotted points that estimates come from, first and last or a `Baseline`; all
    mean, covariance : known (p) and (p, p) instead of estimates; covariance of a single row

    Returns
    -------
    T2Chart with "T2": centre line p, its mean where mean and covariance are known; no lower limit.

    Raises
    ------
    ValueError
        An argument is outside its range, named with its value; too few points for so many
        variables; a variable that does not vary or follows from others.

    Notes
    -----
    T2 = n (x - m)' S^-1 (x - m). With N rows behind m and v degrees of freedom behind S:
    single rows in the baseline, where S has seen the point: (1 - 1/N) v Beta(p/2, (v - p)/2);
    elsewhere and for subgroups (pooled S): (1 -+ n/N) p v / (v - p + 1) F(p, v - p + 1), minus
    in the baseline; S known: (1 -+ n/N) chi-square(p). With m known n/N is 0. For equal sizes
    these are the limits of phase I and phase II; they hold for unequal sizes too, each subgroup
    with its own n. Rows must be normal and independent. A lasting shift inside a baseline of
    single rows widens S and hides itself.

    Source
    ------
    Tracy, Young and Mason (1992), J. Quality Technology 24, 88-95 (single rows); Alt (1985),
    Encyclopedia of Statistical Sciences 6, 110-122 (subgroups). Checked against Ryan, Statistical
    Methods for Quality Improvement, chapter 9, and the gravel of Holmes and Mergen (1993).
    """
    inside_unit("alpha", alpha)
    vectors = plotted_vectors(values, subgroup, KnownVectors(mean=mean, covariance=covariance),
                              baseline)
    _check_enough(vectors)
    value = vectors.distances()
    if vectors.size is not None:
        value *= vectors.size
    chart = make_chart("T2", vectors.n_variables, value, np.nan, _limits(vectors, alpha))
    return T2Chart(
        kind="t2", source=_source(vectors), sigma=None, charts=(chart,), baseline=vectors.baseline,
        cautions=vectors.cautions, alpha=alpha, vectors=vectors,
    )


def t2_breakdown(chart: T2Chart, at: int) -> T2Breakdown:
    """Which variables make the T2 of one point large.

    Parameters
    ----------
    chart : from `t2_chart`
    at : the point, 1-based

    Raises
    ------
    ValueError
        There is no such point.

    Notes
    -----
    The first and the last term of each variable in the decomposition of Mason, Tracy and Young:
    alone T2_j = n (x_j - m_j)^2 / s_jj, and given all others T2_j.rest = T2 - T2 without j. Large
    alone: the variable itself is off. Large given the others only: it no longer goes with them.
    The terms do not add up to T2 unless the variables are uncorrelated. Shares in control are
    exact: those given the others are for a point whose other variables lie where they do.

    Source
    ------
    Mason, Tracy and Young (1995), J. Quality Technology 27, 99-108; distribution of the last term:
    Rao, Linear Statistical Inference and Its Applications, section 8c (additional information).
    """
    k = len(chart.charts[0].value)
    if not 1 <= at <= k:
        raise ValueError(f"at is {at}; it must be inside 1..{k}")
    vectors = chart.vectors
    n = 1.0 if vectors.size is None else float(vectors.size[at - 1])
    return broken_down(at, vectors.points[at - 1] - vectors.mean, vectors.covariance / n,
                       _law(vectors, at))


def broken_down(at: int, off: Floats, covariance: Floats, law: Law) -> T2Breakdown:
    """The terms of a point at a distance from the mean, by the covariance of that point."""
    inverse = np.linalg.inv(covariance)
    pull = inverse @ off
    alone = off**2 / np.diag(covariance)
    given_others = pull**2 / np.diag(inverse)
    t2 = float(off @ pull)
    arrays = {
        "off": off, "off_others": pull / np.diag(inverse), "alone": alone,
        "given_others": given_others, "p_alone": law.beyond(alone, np.zeros_like(alone), 0),
        "p_given_others": law.beyond(given_others, np.maximum(t2 - given_others, 0), len(off) - 1),
    }
    return T2Breakdown(at=at, t2=t2, **{name: read_only(a) for name, a in arrays.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """Distribution of a point's T2: ``scale`` times a law with so many degrees of freedom.

    ``seen`` : the point is one of those the covariance was estimated from.
    """

    scale: float
    degrees: float
    seen: bool

    def limit(self, p: int, alpha: float) -> float:
        """What T2 of p variables exceeds with chance alpha."""
        v = self.degrees
        if np.isinf(v):
            return float(self.scale * chdtri(p, alpha))
        if self.seen:
            return float(self.scale * v * (1 - betaincinv((v - p) / 2, p / 2, alpha)))
        short = betaincinv((v - p + 1) / 2, p / 2, alpha)
        return float(self.scale * v * (1 - short) / short)

    def beyond(self, term: Floats, others: Floats, n_others: int) -> Floats:
        """Chance of at least this much from one variable, given the T2 of so many others."""
        t, r, v = term / self.scale, others / self.scale, self.degrees
        if np.isinf(v):
            return np.asarray(chdtrc(1, t))
        if self.seen:
            free = np.maximum(v - r, np.finfo(float).tiny)
            left = np.clip(1 - t / free, 0, 1)
            return np.asarray(betainc((v - n_others - 1) / 2, 0.5, left))
        return np.asarray(fdtrc(1, v - n_others, t / (1 + r / v) * (v - n_others) / v))


def _law(vectors: Vectors, at: int) -> Law:
    inside = vectors.base.holds(at)
    size = np.ones(1) if vectors.size is None else vectors.size[at - 1:at]
    return Law(scale=float(_scale(vectors, size, inside=inside)[0]), degrees=vectors.degrees,
                seen=inside and vectors.size is None)


def _scale(vectors: Vectors, size: Floats, *, inside: bool) -> Floats:
    """Variance of a point's distance from the mean, in that of a point about the true mean."""
    return 1 - size / vectors.n_mean if inside else 1 + size / vectors.n_mean


def _limits(vectors: Vectors, alpha: float) -> Floats | float:
    size = np.ones(1) if vectors.size is None else vectors.size
    size = size[:1] if np.ptp(size) == 0 else size
    inner, outer = (
        Law(scale=1.0, degrees=vectors.degrees, seen=seen).limit(vectors.n_variables, alpha)
        * _scale(vectors, size, inside=inside)
        for inside, seen in ((True, vectors.size is None), (False, False))
    )
    if len(size) == 1 and vectors.base.n == len(vectors.points):
        return float(inner[0])
    upper = np.empty(len(vectors.points))
    upper[:] = outer
    upper[vectors.base.at] = inner[0] if len(size) == 1 else inner[vectors.base.at]
    return upper


def _check_enough(vectors: Vectors) -> None:
    p, v, singles = vectors.n_variables, vectors.degrees, vectors.size is None
    if v < p + singles:
        what = f"baseline has {vectors.base.n} points" if singles else (
            f"subgroup leaves {v:g} degrees of freedom within the subgroups of the baseline")
        needed = p + 1 + np.isfinite(vectors.n_mean) if singles else p
        raise ValueError(f"{what}; T2 of {p} variables needs at least {needed}")


def _source(vectors: Vectors) -> str:
    if np.isinf(vectors.degrees):
        return f"{SOURCE}, chi-square limits (known covariance)"
    if vectors.size is None:
        return (f"{SOURCE}, single values; beta and F limits of Tracy, Young and Mason (1992),"
                " J. Quality Technology 24, 88-95")
    return f"{SOURCE}, subgroups; F limits of Alt (1985), Encyclopedia of Statistical Sciences 6"
