"""Does a measured characteristic keep its limits, and what could the process do at its best?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from qc.stats.capability.fitting import POOR_FIT, RULE, Fit, chosen_fit, fit_distribution
from qc.stats.capability.indices import (
    Index,
    Spread,
    deviation_spread,
    moving_range_spread,
    nearer_index,
    point_indices,
    target_index,
    width_index,
)
from qc.stats.capability.normality import LEVEL, Normality, anderson_darling
from qc.stats.capability.percentiles import (
    PercentileIndices,
    PercentileIntervals,
    percentile_indices,
    percentile_intervals,
)
from qc.stats.capability.specification import Specification
from qc.stats.capability.stability import SURE, between_p_value, beyond_p_value
from qc.stats.charts.autocorrelation import likeness
from qc.stats.charts.baselines import base_points
from qc.stats.charts.spread import Subgroups, moving_range_sigma, subgroups
from qc.stats.checks import Floats, finite_array, inside_unit
from qc.stats.comparing.intervals import ShareInterval, exact_interval
from qc.stats.deviation import standard_deviation

SOURCE = "ISO 22514-2 and ISO 22514-4: capability against performance; percentile method"

FEW_VALUES = 50
"""Below this the intervals are so wide that an index decides little (common practice)."""
FEW_FOR_CENTRE = 25
"""Below this luck with the nearer limit takes 4 % and more off a cpk of 4/3 in the middle; the
interval then lies below the true one in 4 of 100 samples instead of 2.5 (simulated)."""


class CapabilityCaution(Enum):
    """What a reader must know before trusting an index; the value is the sentence to show."""

    FEW_VALUES = f"fewer than {FEW_VALUES} values: read the intervals, not the indices"
    NO_VARIATION = "all values are equal: no index can be computed; is the instrument too coarse?"
    NO_VARIATION_WITHIN = "values do not vary within subgroups: cp and cpk cannot be computed"
    UNSTABLE = (
        "the process was not stable: cp and cpk say what it could do, not what it does; find the"
        " cause of the change first (control chart)"
    )
    ALIKE = (
        "neighbouring values are alike: the moving range sees too little of the spread, cp and cpk"
        " flatter; look at pp and ppk"
    )
    ALTERNATING = (
        "neighbouring values differ more than distant ones: two streams taking turns, or settings"
        " corrected after every piece?"
    )
    NOT_NORMAL = "the values are not normal: look at the percentile indices instead of pp and ppk"
    NOT_QUITE_NORMAL = (
        "the values are not quite normal: take pp, ppk and the share expected outside with care"
    )
    POOR_FIT = (
        "no distribution tried describes the values well: trust the counted share, and look for"
        " two processes mixed"
    )
    MEAN_OUTSIDE = "the mean itself lies outside the limits"
    CENTRED = (
        "few values, and the mean in the middle of the limits: cpk and ppk tend to come out too"
        " low, and the upper ends of their intervals with them"
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Capability:
    """Capability (inherent sigma) and performance (total sigma) of a characteristic.

    An index is None where the limit or target it needs does not exist, or the values do not
    vary. ``fit``, ``percentile``, ``percentile_intervals`` (below 8 values too) and
    ``share_outside_fitted`` (nan) likewise; ``shape_by``: how the fitted distribution was chosen.
    ``outside``: values counted beyond the limits, as a share with its interval. ``cautions``:
    enums whose value is a sentence.
    """

    source: str
    n: int
    mean: float
    inherent: Spread
    total: Spread
    specification: Specification
    confidence: float
    cp: Index | None
    cpk: Index | None
    pp: Index | None
    ppk: Index | None
    cpm: Index | None
    normality: Normality
    fit: Fit | None
    shape_by: str
    percentile: PercentileIndices | None
    percentile_intervals: PercentileIntervals | None
    outside: ShareInterval
    cautions: tuple[Enum, ...]

    @property
    def share_outside_fitted(self) -> float:
        """What the fitted distribution puts beyond the limits; nan without variation."""
        return math.nan if self.percentile is None else self.percentile.share_outside


def capability(
    values: npt.ArrayLike, specification: Specification, *, subgroup: npt.ArrayLike | None = None,
    confidence: float = 0.95, distribution: str | None = None,
) -> Capability:
    """Capability and performance indices with intervals, shape, and share outside the limits.

    Parameters
    ----------
    values : n finite values in time order, in the unit of the limits, n >= 2
    specification : limits and target
    subgroup : label of each value's subgroup; without it neighbours give the inherent sigma
    confidence : of each interval, inside (0, 1)
    distribution : one of `qc.stats.capability.fitting.DISTRIBUTIONS` instead of the stated rule

    Raises
    ------
    ValueError
        Too few or not finite values, values too far apart to compute with, lengths that differ,
        subgroups of one value only, confidence outside (0, 1), a distribution not known or
        impossible.

    Notes
    -----
    Inherent sigma: MR-bar / d2, with subgroups the pooled standard deviation. Total sigma: the
    standard deviation of all values, divisor n - 1. Cp = (U - L) / 6 sigma, Cpk = room to the
    nearer limit over 3 sigma, Pp and Ppk the same with total sigma,
    Cpm = (U - L) / 6 sqrt(s^2 + (mean - T)^2). Intervals take the values as normal and
    independent and the process as stable; what speaks against that is among the cautions.

    Source
    ------
    ISO 22514-2 and ISO 22514-4 (capability against performance); sources of the intervals are
    with `width_index`, `nearer_index`, `target_index`, of the shape with `percentile_indices`.
    """
    inside_unit("confidence", confidence)
    sample = _sample(finite_array("values", values, at_least=2), subgroup)
    x, n = sample.x, len(sample.x)
    normality = anderson_darling(x)
    fit = _fit(x, normality, distribution) if sample.total.sigma > 0 else None
    cp, cpk = _pair(sample, sample.inherent, specification, confidence)
    pp, ppk = _pair(sample, sample.total, specification, confidence)
    return Capability(
        source=SOURCE, n=n, mean=sample.mean, inherent=sample.inherent, total=sample.total,
        specification=specification, confidence=confidence, cp=cp, cpk=cpk, pp=pp, ppk=ppk,
        cpm=_cpm(sample, specification, confidence), normality=normality, fit=fit,
        shape_by=RULE if distribution is None else "named by the user",
        percentile=None if fit is None else percentile_indices(fit, specification),
        percentile_intervals=None if fit is None else percentile_intervals(
            x, fit, specification, confidence),
        outside=exact_interval(specification.n_outside(x), n, confidence=confidence),
        cautions=_cautions(sample, fit, normality, specification),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sample:
    """Values in time order, with both estimates of their sigma; subgroups where there are any."""

    x: Floats
    mean: float
    groups: Subgroups | None
    inherent: Spread
    total: Spread


def _sample(x: Floats, subgroup: npt.ArrayLike | None) -> _Sample:
    groups = None if subgroup is None else subgroups(x, subgroup)
    if groups is not None and groups.size.max() < 2:
        raise ValueError("subgroup has 1 value in every subgroup; at least one needs 2 or more")
    total = deviation_spread(standard_deviation(x), len(x) - 1, "standard deviation of all values")
    inherent = _within(groups, total) if groups else _of_neighbours(x, total)
    return _Sample(x=x, mean=float(x.mean()), groups=groups, inherent=inherent, total=total)


def _of_neighbours(x: Floats, total: Spread) -> Spread:
    sigma = moving_range_sigma(x, base_points(None, len(x))) if total.sigma > 0 else 0.0
    return moving_range_spread(sigma, len(x))


def _within(groups: Subgroups, total: Spread) -> Spread:
    several = groups.size > 1
    df = groups.size[several] - 1
    sigma = math.sqrt(float((df * groups.deviation[several] ** 2).sum() / df.sum()))
    return deviation_spread(sigma if total.sigma > 0 else 0.0, float(df.sum()),
                            "pooled standard deviation within subgroups")


def _fit(x: Floats, normality: Normality, distribution: str | None) -> Fit:
    if distribution is not None:
        return fit_distribution(x, name=distribution)
    return chosen_fit(np.sort(x), normality)


def _pair(
    sample: _Sample, spread: Spread, specification: Specification, confidence: float
) -> tuple[Index | None, Index | None]:
    if spread.sigma == 0:
        return None, None
    at = point_indices(sample.mean, spread.sigma, specification)
    width = None if math.isnan(at.c) else width_index(at.c, spread, confidence)
    return width, nearer_index(at.nearer, len(sample.x), spread, confidence)


def _cpm(sample: _Sample, specification: Specification, confidence: float) -> Index | None:
    mean, sigma = sample.mean, sample.total.sigma
    if sigma == 0 or specification.target is None or not specification.two_sided:
        return None
    value = point_indices(mean, sigma, specification).cpm
    return target_index(value, len(sample.x), (mean - specification.target) / sigma, confidence)


def _cautions(
    sample: _Sample, fit: Fit | None, normality: Normality, specification: Specification
) -> tuple[Enum, ...]:
    low, high = specification.ends
    found = ((len(sample.x) < FEW_VALUES, CapabilityCaution.FEW_VALUES),
             (not low <= sample.mean <= high, CapabilityCaution.MEAN_OUTSIDE),
             (_centred_by_few(sample, specification), CapabilityCaution.CENTRED),
             (fit is None, CapabilityCaution.NO_VARIATION))
    if fit is None:
        return _kept(*found)
    return _kept(
        *found, *_in_time(sample, fit),
        (sample.inherent.sigma == 0, CapabilityCaution.NO_VARIATION_WITHIN),
        (normality.p_value_spread < LEVEL, CapabilityCaution.NOT_QUITE_NORMAL
         if fit.name == "normal" else CapabilityCaution.NOT_NORMAL),
        (fit.a_squared > POOR_FIT, CapabilityCaution.POOR_FIT),
    ) + normality.cautions


def _centred_by_few(sample: _Sample, specification: Specification) -> bool:
    """Whether luck alone may decide which limit is the nearer: then the smaller of two is taken."""
    if not specification.two_sided or len(sample.x) >= FEW_FOR_CENTRE:
        return False
    low, high = specification.ends
    off = abs(sample.mean - (low + high) / 2)
    return off < 2 * sample.total.sigma / math.sqrt(len(sample.x))


def _in_time(sample: _Sample, fit: Fit) -> tuple[tuple[bool, CapabilityCaution], ...]:
    """What the order of the values speaks against."""
    if sample.groups is not None:
        return ((between_p_value(sample.groups) < SURE, CapabilityCaution.UNSTABLE),)
    # seen through the fitted shape, or a long tail would pass for a change
    scores = sample.x if fit.name == "normal" else fit.normal_scores(sample.x)
    r = likeness(scores)
    return (
        (beyond_p_value(scores) < SURE, CapabilityCaution.UNSTABLE),
        (r.matters and r.r > 0, CapabilityCaution.ALIKE),
        (r.matters and r.r < 0, CapabilityCaution.ALTERNATING),
    )


def _kept(*found: tuple[bool, CapabilityCaution]) -> tuple[CapabilityCaution, ...]:
    return tuple(caution for applies, caution in found if applies)
