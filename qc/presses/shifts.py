"""When a platen began to move: a hinge (level, then a drift) or a step, whichever fits better."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

KNOTS_PER_GAP = 10
INTERVAL_GAIN = 4.0
"""How much worse a start inside the 90 % interval may fit. Chi-squared gives 2.71; the fit has a
corner where the start is, and is looked at when it first alarms: by simulation 2.71 held 84 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A change of level in a series, times in days, values in degC.

    ``kind`` 'drift' (``rate`` per day from ``at`` on) or 'step' (``rate`` 0). ``z`` : its size in
    standard deviations; ``before`` and ``now`` : fitted level before it and at the last point;
    ``low``, ``high`` : 90 % interval of its start.
    """

    kind: str
    at: float
    low: float
    high: float
    z: float
    before: float
    now: float
    rate: float

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
    and of y = a + b [t > start]. The better fit names the change; where the other fits nearly as
    well the interval holds both.
    """
    if len(days) < 3 or np.ptp(days) == 0:
        return None
    drift = _drift(days, values, sigma, min_after, sign)
    step = _step(days, values, sigma, min_after, sign)
    both = sorted((s for s in (step, drift) if s is not None), key=lambda s: -(s.z**2))
    if len(both) < 2 or both[1].z ** 2 < both[0].z ** 2 - INTERVAL_GAIN:
        return both[0] if both else None
    best, rival = both
    return replace(best, low=min(best.low, rival.low), high=max(best.high, rival.high))


def _drift(days: Floats, y: Floats, sigma: float, min_after: int, sign: int) -> Shift | None:
    ends = np.unique(days)
    share = np.arange(KNOTS_PER_GAP) / KNOTS_PER_GAP
    knots = (ends[:-1, None] + np.diff(ends)[:, None] * share).ravel()
    knots = knots[knots < days[-min_after]]
    if len(knots) == 0:
        return None
    run = np.maximum(0.0, days[None, :] - knots[:, None])
    z, slope = _fits(run, y, sigma)
    best, low, high = _likeliest(z, sign)
    if best is None:
        return None
    before = float(y.mean() - slope[best] * run[best].mean())
    return Shift(
        kind="drift", at=float(knots[best]), low=float(knots[low]), high=float(knots[high]),
        z=float(z[best]), before=before, rate=float(slope[best]),
        now=before + float(slope[best] * run[best, -1]),
    )


def _step(days: Floats, y: Floats, sigma: float, min_after: int, sign: int) -> Shift | None:
    first = np.flatnonzero(np.diff(days) > 0) + 1
    first = first[first <= len(days) - min_after]
    if len(first) == 0:
        return None
    after = np.where(np.arange(len(days))[None, :] >= first[:, None], 1.0, 0.0)
    z, size = _fits(after, y, sigma)
    best, low, high = _likeliest(z, sign)
    if best is None:
        return None
    k = first[best]
    before = float(y[:k].mean())
    return Shift(
        kind="step", at=float((days[k - 1] + days[k]) / 2), low=float(days[first[low] - 1]),
        high=float(days[first[high]]), z=float(z[best]), before=before,
        now=before + float(size[best]), rate=0.0,
    )


def _fits(rows: Floats, y: Floats, sigma: float) -> tuple[Floats, Floats]:
    """Size in standard deviations and coefficient of each regressor beside a level."""
    centred = rows - rows.mean(axis=1, keepdims=True)
    weight = (centred**2).sum(axis=1)
    product = centred @ (y - y.mean())
    return product / (sigma * np.sqrt(weight)), product / weight


def _likeliest(z: Floats, sign: int) -> tuple[int | None, int, int]:
    """Best position, and the first and last that fit nearly as well."""
    gain = np.where((sign == 0) | (np.sign(z) == sign), z**2, -np.inf)
    best = int(np.argmax(gain))
    if not np.isfinite(gain[best]):
        return None, 0, 0
    near = np.flatnonzero((gain >= gain[best] - INTERVAL_GAIN) & (np.sign(z) == np.sign(z[best])))
    return best, int(near[0]), int(near[-1])
