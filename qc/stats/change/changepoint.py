"""When a lasting step began: the most likely last point before it, with an interval."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt
from scipy.special import xlogy

from qc.stats.checks import (
    Floats,
    finite,
    finite_array,
    inside_unit,
    positive,
    read_only,
    refuse_where,
    same_length,
    whole_array,
)


class StepCaution(Enum):
    """What a reader must know before using the estimate; the value is the sentence to show."""

    NO_STEP_SHOWN = "the points fit the level before as well: no step is shown"
    FROM_THE_START = "the step may have begun before the first point"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepEstimate:
    """The step that explains the points best.

    ``last_before`` : number of points before the step (0: all lie after it), so the first point
    of the new level is ``last_before`` + 1 (1-based). ``low``, ``high`` : interval of
    ``last_before``. ``support`` : log likelihood ratio of a step after t points against none, for
    t = 0..T-1, read-only. ``before`` : the known level; ``after`` : the level estimated.
    """

    last_before: int
    low: int
    high: int
    before: float
    after: float
    support: Floats
    confidence: float
    cautions: tuple[StepCaution, ...]


def normal_step(
    values: npt.ArrayLike, *, centre: float, sigma: float, confidence: float = 0.9
) -> StepEstimate:
    """Step of a normal mean away from a known one.

    Parameters
    ----------
    values : points in time order up to the signal, one unit, finite
    centre : mean before the step
    sigma : standard deviation of a point, above 0
    confidence : of the interval, inside (0, 1)

    Raises
    ------
    ValueError
        An argument is out of its range.

    Notes
    -----
    Most likely t: largest (T - t)(mean of points t+1..T - centre)^2. The interval holds every t
    whose log likelihood is within c of the best, c = -log(1 - sqrt(confidence)): each side of
    the true point is a walk that climbs c above it with chance below exp(-c). The level after
    is estimated, so the stated confidence is approximate for steps barely seen.

    Source
    ------
    Samuel, Pignatiello & Calvin (1998), Quality Engineering 10(3), 521-527; interval: Siegmund
    (1988), Int. Stat. Review 56, 31-48 (both from memory).
    """
    x = (finite_array("values", values) - finite("centre", centre)) / positive("sigma", sigma)
    n_after = np.arange(len(x), 0, -1, dtype=np.float64)
    total = _sums_to_end(x)
    support = total**2 / (2 * n_after)
    return _estimate(support, centre, centre + sigma * total / n_after, confidence)


def binomial_step(
    n_defective: npt.ArrayLike, n_inspected: npt.ArrayLike, *, before: float,
    confidence: float = 0.9,
) -> StepEstimate:
    """Step of a share away from a known one.

    Parameters
    ----------
    n_defective, n_inspected : whole pieces of each sample in time order, 0..n and 1 and up
    before : share before the step, inside (0, 1)

    Notes
    -----
    Support D ln(p/p0) + (N - D) ln((1-p)/(1-p0)), D and N summed over points t+1..T, p = D/N.
    Errors, confidence and interval as for `normal_step`.

    Source
    ------
    Pignatiello & Samuel (2001), Quality Engineering 13(3), 357-365 (from memory).
    """
    d = whole_array("n_defective", n_defective)
    n = whole_array("n_inspected", n_inspected, low=1)
    same_length("n_defective", d, "n_inspected", n)
    refuse_where("n_defective", d, d > n, "0 to the number inspected")
    inside_unit("before", before)
    total, of = _sums_to_end(d), _sums_to_end(n)
    share = total / of
    support = xlogy(total, share / before) + xlogy(of - total, (1 - share) / (1 - before))
    return _estimate(support, before, share, confidence)


def poisson_step(
    n_events: npt.ArrayLike, expected: npt.ArrayLike, *, confidence: float = 0.9
) -> StepEstimate:
    """Step of a Poisson rate away from what was expected of each point.

    Parameters
    ----------
    n_events : whole events of each point in time order, 0 and up
    expected : events expected without a step, above 0 for each point (exposure times the rate
        before); so points of different size and mix are one series

    Notes
    -----
    ``before`` is 1 and ``after`` the factor on the expectation. Support K ln(K/E) - (K - E), K and
    E summed over points t+1..T. Errors, confidence and interval as for `normal_step`.

    Source
    ------
    Samuel & Pignatiello (1998), Quality Engineering 10(4), 673-681 (from memory).
    """
    k = whole_array("n_events", n_events)
    mean = finite_array("expected", expected)
    same_length("n_events", k, "expected", mean)
    refuse_where("expected", mean, mean <= 0, "numbers above 0")
    total, of = _sums_to_end(k), _sums_to_end(mean)
    factor = total / of
    support = xlogy(total, factor) - (total - of)
    return _estimate(support, 1.0, factor, confidence)


def _sums_to_end(values: Floats) -> Floats:
    sums: Floats = np.cumsum(values[::-1])[::-1]
    return sums


def _estimate(
    support: Floats, before: float, after: Floats, confidence: float
) -> StepEstimate:
    best = int(np.argmax(support))
    within = -math.log(1 - math.sqrt(inside_unit("confidence", confidence)))
    likely = np.flatnonzero(support >= support[best] - within)
    cautions = []
    if support[best] <= within:
        cautions.append(StepCaution.NO_STEP_SHOWN)
    if likely[0] == 0:
        cautions.append(StepCaution.FROM_THE_START)
    return StepEstimate(
        last_before=best, low=int(likely[0]), high=int(likely[-1]), before=float(before),
        after=float(after[best]), support=read_only(np.array(support)), confidence=confidence,
        cautions=tuple(cautions),
    )
