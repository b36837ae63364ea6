"""When a platen began to move: a hinge (level, then a drift) or a step, whichever fits better."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

KNOTS_PER_GAP = 10
INTERVAL_GAIN = 4.0
"""How much worse a start inside the 90 % interval may fit. Chi-squared gives 2.71; the fit has a
corner where the start is: by simulation 2.71 held 83 to 89 % of the starts of drifts in whole
series, 4 held 92 to 95 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A change of level in a series, times in days, values in degC.

    ``kind`` 'drift' (``rate`` per day from ``at`` on) or 'step' (``rate`` 0). ``z`` : its size in
    standard deviations; ``before`` and ``now`` : fitted level before it and at the last point;
    ``low``, ``high`` : 90 % interval of its start. ``is_told`` : the other kind fits clearly worse.
    """

    kind: str
    at: float
    low: float
    high: float
    z: float
    before: float
    now: float
    rate: float
    is_told: bool = True

    @property
    def moved(self) -> float:
        return self.now - self.before


def shift_of(
    days: Floats, values: Floats, sigma: float, *, min_after: int = 1, sign: int = 0
) -> Shift | None:
    """The likeliest change in a series, or None where it has fewer than 3 points.

    Parameters
    ----------
    days : n rising times (ties allowed); values : n values with independent errors of ``sigma``
    min_after : points that must lie after the change, so that one wild survey is not a change
    sign : 1 or -1 to look for rises or falls alone, 0 for both

    Notes
    -----
    Least squares with known sigma over a grid of starts: likelihood of y = a + b max(0, t - start)
    and of y = a + b [t > start]. The better fit names the change. The interval holds every start of
    either that fits nearly as well, also those with fewer than ``min_after`` points after them: a
    step just before the newest survey but one cannot be told from one just after it.
    """
    if len(days) < 3 or np.ptp(days) == 0:
        return None
    tried = (_drifts(days, values, sigma), _steps(days, values, sigma))
    found = [(gain, k, starts) for starts in tried
             for gain, k in [_likeliest(starts, min_after, sign)] if k is not None]
    if not found:
        return None
    gain, best, starts = max(found, key=lambda one: one[0])
    ends = [one.ends(gain - INTERVAL_GAIN, float(np.sign(starts.z[best]))) for one in tried]
    lows, highs = zip(*(pair for pair in ends if pair is not None), strict=True)
    return replace(starts.shift(best), low=min(lows), high=max(highs),
                   is_told=sum(pair is not None for pair in ends) == 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Starts:
    """Changes of one kind, one for each start: the earliest and latest moment that fits as well
    (``low``, ``high``), its size in standard deviations, its coefficient, and its points after."""

    kind: str
    at: Floats
    low: Floats
    high: Floats
    z: Floats
    size: Floats
    before: Floats
    reach: Floats
    n_after: npt.NDArray[np.int64]

    def ends(self, gain: float, sign: float) -> tuple[float, float] | None:
        """Between which moments starts fit at least so well, in one direction; None if none do."""
        near = (self.z**2 >= gain) & (np.sign(self.z) == sign)
        return (float(self.low[near].min()), float(self.high[near].max())) if near.any() else None

    def shift(self, k: int) -> Shift:
        size, before = float(self.size[k]), float(self.before[k])
        return Shift(
            kind=self.kind, at=float(self.at[k]), low=float(self.low[k]), high=float(self.high[k]),
            z=float(self.z[k]), before=before, now=before + size * float(self.reach[k]),
            rate=size if self.kind == "drift" else 0.0,
        )


def _drifts(days: Floats, y: Floats, sigma: float) -> _Starts:
    ends = np.unique(days)
    share = np.arange(KNOTS_PER_GAP) / KNOTS_PER_GAP
    knots = (ends[:-1, None] + np.diff(ends)[:, None] * share).ravel()
    run = np.maximum(0.0, days[None, :] - knots[:, None])
    z, slope = _fits(run, y, sigma)
    return _Starts(
        kind="drift", at=knots, low=knots, high=knots, z=z, size=slope,
        before=y.mean() - slope * run.mean(axis=1), reach=run[:, -1],
        n_after=(days > knots[:, None]).sum(axis=1),
    )


def _steps(days: Floats, y: Floats, sigma: float) -> _Starts:
    first = np.flatnonzero(np.diff(days) > 0) + 1
    after = np.where(np.arange(len(days))[None, :] >= first[:, None], 1.0, 0.0)
    z, size = _fits(after, y, sigma)
    return _Starts(
        kind="step", at=(days[first - 1] + days[first]) / 2, low=days[first - 1], high=days[first],
        z=z, size=size, before=np.cumsum(y)[first - 1] / first, reach=np.ones(len(first)),
        n_after=len(days) - first,
    )


def _fits(rows: Floats, y: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Size in standard deviations and coefficient of each regressor beside a level."""
    centred = rows - rows.mean(axis=1, keepdims=True)
    weight = (centred**2).sum(axis=1)
    product = centred @ (y - y.mean())
    return product / (sigma * np.sqrt(weight)), product / weight


def _likeliest(starts: _Starts, min_after: int, sign: int) -> tuple[float, int | None]:
    """Gain and position of the best start with enough points after it; None without one."""
    allowed = (starts.n_after >= min_after) & ((sign == 0) | (np.sign(starts.z) == sign))
    if not allowed.any():
        return -np.inf, None
    gain = np.where(allowed, starts.z**2, -np.inf)
    best = int(np.argmax(gain))
    return float(gain[best]), best
