"""Every line that a series of surveys allows, each with its weight: where a platen leads.

A platen may hold still, have drifted all along, begun to drift at some moment, or been stepped by
somebody who did not say so. Which it was is seldom sure, and a forecast from the likeliest one
alone is too sure of itself. So the forecast is of all of them together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.special import chdtri, ndtr

Floats = npt.NDArray[np.float64]

STILL_C_PER_DAY, DRIFT_C_PER_DAY, STEP_C = 0.01, 0.2, 3.0
"""Standard deviations of the slope of a platen that holds still, of one that drifts, and of a step,
before any survey. They decide where surveys do not: two surveys after a start say little of its
slope."""
STILL_SHARE = 0.5
"""How many platens hold still, of those without a change."""
DAYS_TO_DRIFT, DAYS_TO_STEP = 365.0, 1095.0
"""A platen begins to drift once a year and is stepped unsaid once in three. All these are proposed,
no source; by tests.benchmarks.platens intervals hold what they say over a range of them."""
KINDS = ("line", "hinge", "step")
KNOTS_PER_GAP = 10
WILD_Z = 4.0
CLEARLY = 3.0
"""Where no drift is shown, the line all along is drawn unless a step is so many times likelier:
what follows a start near the end is mostly scatter."""
HELD = 0.95
LEAST_WEIGHT = 1e-6
_HALVINGS = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class BestLine:
    """The line to draw, by least squares: ``level`` at the last survey (day 0), ``slope`` a day.

    ``kind`` 'line', 'hinge' or 'step'; ``start`` : its first day.
    """

    kind: str
    start: float
    level: float
    slope: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lines:
    """Lines with their weights (sum 1): normal errors of ``level`` at day 0 and of ``slope``.

    ``misfit`` : mean square of the residuals of the likeliest one over ``free`` degrees of freedom,
    in squared standard deviations.
    """

    weight: Floats
    level: Floats
    slope: Floats
    level_variance: Floats
    slope_variance: Floats
    covariance: Floats
    best: BestLine
    misfit: float
    free: int

    def fits(self, p: float) -> bool:
        """Do the residuals stay below what luck exceeds with chance ``p``?"""
        return self.misfit * self.free <= float(chdtri(self.free, p))

    def below(self, value: Floats | float, day: Floats | float) -> Floats:
        """Chance that the platen is below a value on a day; arrays of one shape."""
        at = np.asarray(day, dtype=np.float64)[..., None]
        return _share(np.asarray(value, dtype=np.float64)[..., None],
                      self.level + self.slope * at, self._variance(at), self.weight)

    def between(self, day: Floats) -> tuple[Floats, Floats]:
        """Lower and upper end, on each day, of the interval that holds the platen with 95 %."""
        at = np.asarray(day, dtype=np.float64)[..., None]
        return _interval(self.level + self.slope * at, self._variance(at), self.weight)

    def slope_between(self) -> tuple[float, float]:
        """The same of the slope."""
        low, high = _interval(self.slope, self.slope_variance, self.weight)
        return float(low), float(high)

    def _variance(self, at: Floats) -> Floats:
        return self.level_variance + 2 * at * self.covariance + at**2 * self.slope_variance


def _share(value: Floats, mean: Floats, variance: Floats, weight: Floats) -> Floats:
    chance: Floats = ndtr((value - mean) / np.sqrt(variance)) @ weight
    return chance


def _interval(mean: Floats, variance: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """The middle 95 % of weighted normals, by halving."""
    reach = 10 * np.sqrt(variance)
    ends = []
    for wanted in ((1 - HELD) / 2, (1 + HELD) / 2):
        low, high = (mean - reach).min(axis=-1), (mean + reach).max(axis=-1)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            under = _share(middle[..., None], mean, variance, weight) < wanted
            low, high = np.where(under, middle, low), np.where(under, high, middle)
        ends.append((low + high) / 2)
    return ends[0], ends[1]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Family:
    """Paths of one kind: ``shape`` (paths, surveys, coefficients) and ``now`` at day 0 beside a
    level; ``ahead``: how much each coefficient adds a day; ``usual``: their standard deviations;
    ``n_after`` : surveys from the start on; ``unseen`` : leading coefficients that a
    drawn line is without."""

    kind: str
    prior: Floats
    start: Floats
    shape: Floats
    now: Floats
    ahead: Floats
    usual: Floats
    n_after: npt.NDArray[np.int64]
    unseen: int = 0


def lines_of(days: Floats, values: Floats, sigma: float) -> Lines:
    """The lines that values with independent errors of ``sigma`` allow.

    Parameters
    ----------
    days : n rising times, the last one 0, not all equal; values : n values, degC

    Notes
    -----
    y = a + b t, the slope that of a platen that holds still or of one that drifts; the first with a
    drift beside it from k on, y = a + b t + c max(0, t - k), for a grid of starts k; either with an
    unsaid step, y = a + b t + c [t > k], for a k in every gap. Level flat, slopes and step normal
    about 0 beforehand: then the weights and each line's errors are exact sums. Sigma is taken as
    known. A survey that stands apart from both its neighbours by more than `WILD_Z` sigma counts as
    if its error were as large as that.

    Source
    ------
    Bayesian averaging of linear models: Hoeting, Madigan, Raftery & Volinsky (1999), Statistical
    Science 14, 382-417.
    """
    precision = 1 / (sigma**2 * _inflation(values, sigma))
    fits = [_fit(family, values, precision) for family in _families(days)]
    score = np.concatenate([fit.score for fit in fits])
    weight = np.exp(score - score.max())
    weight /= weight.sum()
    kept = weight > LEAST_WEIGHT * weight.max()
    columns = {
        name: np.concatenate([getattr(fit, name) for fit in fits])[kept]
        for name in ("level", "slope", "level_variance", "slope_variance", "covariance")
    }
    held = weight[kept] / weight[kept].sum()
    low, high = _interval(columns["slope"], columns["slope_variance"], held)
    parts = np.split(weight, np.cumsum([len(fit.score) for fit in fits])[:-1])
    paths = [_Path(family=fit.family, at=i, weight=float(part[i]))
             for fit, part in zip(fits, parts, strict=True) for i in range(len(part))]
    likeliest = _solved(max(paths, key=lambda path: path.weight), values, precision)
    drawn = _drawn(paths, drift=bool(low > 0 or high < 0))
    best = _solved(drawn, values, precision).line
    if not low <= best.slope <= high:  # too few surveys after its start: the mean of all lines
        best = replace(best, level=float(held @ columns["level"]),
                       slope=float(held @ columns["slope"]))
    return Lines(weight=held, **columns, best=best, misfit=likeliest.misfit, free=likeliest.free)


def _inflation(values: Floats, sigma: float) -> Floats:
    """How much larger than sigma squared the error of each value is taken."""
    apart = np.zeros(len(values))
    before, after = np.diff(values)[:-1], -np.diff(values)[1:]
    lonely = np.where(before * after > 0, np.minimum(np.abs(before), np.abs(after)), 0.0)
    apart[1:-1] = np.where(lonely > WILD_Z * sigma, lonely, 0.0)
    return np.maximum(1.0, (apart / sigma) ** 2)


def _families(days: Floats) -> Iterator[_Family]:
    ends = np.unique(days)
    gap = np.diff(ends)
    shares = ((STILL_SHARE, STILL_C_PER_DAY), (1 - STILL_SHARE, DRIFT_C_PER_DAY))
    for share, slope in shares:
        yield _Family(
            kind="line", prior=np.array([share]), start=days[:1], shape=days[None, :, None],
            now=np.zeros((1, 1)), ahead=np.array([1.0]), usual=np.array([slope]),
            n_after=np.array([len(days)]))
    part = np.arange(KNOTS_PER_GAP) / KNOTS_PER_GAP
    knots = (ends[:-1, None] + gap[:, None] * part).ravel()
    yield _Family(
        kind="hinge", prior=np.repeat(gap, KNOTS_PER_GAP) / KNOTS_PER_GAP / DAYS_TO_DRIFT,
        start=knots, now=np.stack([0 * knots, -knots], axis=-1), ahead=np.array([1.0, 1.0]),
        shape=np.stack(
            [np.broadcast_to(days, (len(knots), len(days))), _run(days, knots)], axis=-1),
        usual=np.array([STILL_C_PER_DAY, DRIFT_C_PER_DAY]), unseen=1,
        n_after=(days > knots[:, None]).sum(axis=1))
    middle = ends[:-1] + gap / 2
    after = (days > middle[:, None]).astype(np.float64)
    for share, slope in shares:
        yield _Family(
            kind="step", prior=share * gap / DAYS_TO_STEP, start=ends[1:],
            shape=np.stack([after, np.broadcast_to(days, after.shape)], axis=-1),
            now=np.broadcast_to([1.0, 0.0], (len(gap), 2)), ahead=np.array([0.0, 1.0]),
            usual=np.array([STEP_C, slope]), n_after=after.sum(axis=1).astype(np.int64))


def _run(days: Floats, starts: Floats) -> Floats:
    return np.maximum(0.0, days[None, :] - starts[:, None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    family: _Family
    score: Floats
    level: Floats
    slope: Floats
    level_variance: Floats
    slope_variance: Floats
    covariance: Floats


def _fit(family: _Family, values: Floats, precision: Floats) -> _Fit:
    """Score (log of prior times likelihood, up to a constant) and line of each path."""
    total = precision.sum()
    middle = np.einsum("mnp,n->mp", family.shape, precision) / total
    centred = family.shape - middle[:, None, :]
    mean = float(precision @ values / total)
    inner = np.einsum("mnp,n,mnq->mpq", centred, precision, centred)
    inner += np.diag(1 / family.usual**2)
    product = np.einsum("mnp,n->mp", centred, precision * (values - mean))
    spread = np.linalg.inv(inner)
    found = np.einsum("mpq,mq->mp", spread, product)
    reach, ahead = family.now - middle, family.ahead
    gain = (product * found).sum(axis=1)
    size = np.linalg.slogdet(inner)[1] + 2 * np.log(family.usual).sum()
    return _Fit(
        family=family, score=np.log(family.prior) + gain / 2 - size / 2,
        level=mean + (reach * found).sum(axis=1), slope=found @ ahead,
        level_variance=1 / total + np.einsum("mp,mpq,mq->m", reach, spread, reach),
        slope_variance=np.einsum("p,mpq,q->m", ahead, spread, ahead),
        covariance=np.einsum("mp,mpq,q->m", reach, spread, ahead),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Path:
    family: _Family
    at: int
    weight: float


def _drawn(paths: list[_Path], *, drift: bool) -> _Path:
    """The likeliest path of the likeliest kind; never one that begins with the last survey."""
    total = {kind: sum(path.weight for path in paths if path.family.kind == kind)
             for kind in KINDS}
    if drift:
        kind = max(total, key=lambda name: total[name])
    else:
        kind = "step" if total["step"] > CLEARLY * total["line"] else "line"
    seen = [path for path in paths if path.family.kind == kind
            and path.family.n_after[path.at] > 1]
    return max(seen or paths[:1], key=lambda path: path.weight)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Solved:
    line: BestLine
    misfit: float
    free: int


def _solved(path: _Path, values: Floats, precision: Floats) -> _Solved:
    """A path fitted by weighted least squares, without the usual sizes."""
    family, at, kept = path.family, path.at, slice(path.family.unseen, None)
    design = np.column_stack([np.ones(len(values)), family.shape[at][:, kept]])
    root = np.sqrt(precision)
    found = np.linalg.lstsq(design * root[:, None], values * root, rcond=None)[0]
    free = max(len(values) - design.shape[1] - (family.kind != "line"), 1)
    line = BestLine(
        kind=family.kind, start=float(family.start[at]),
        level=float(found[0] + family.now[at][kept] @ found[1:]),
        slope=float(family.ahead[kept] @ found[1:]))
    left = values - design @ found
    return _Solved(line=line, misfit=float(precision @ left**2) / free, free=free)
