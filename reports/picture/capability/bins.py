"""Values counted in bars of equal width, by a stated rule that treats ties alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from reports.picture.plot import Floats, Ints

MOST_BARS = 120
"""Of a longer reach the bars are wider than the rule says."""
MOST_STEPS = 80
"""Where a bar of the rule is wider than so many steps, steps no longer show."""
SAME = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bars:
    """``edges`` one more than bars; ``inside`` and ``outside``: values within and beyond limits.

    ``step`` : what the values are rounded to, None where no step shows; ``widened``: the rule asked
    for more bars than can be told apart; ``equal``: all values are.
    """

    edges: Floats
    inside: Ints
    outside: Ints
    step: float | None
    widened: bool
    equal: bool = False

    @property
    def width(self) -> float:
        return float(self.edges[1] - self.edges[0])

    @property
    def count(self) -> Ints:
        """Values in each bar."""
        return self.inside + self.outside


def counted(values: Floats, lower: float | None, upper: float | None) -> Bars:
    """Values in bars; the limits are None where there is none.

    Notes
    -----
    Width: 2 IQR / n^(1/3), in whole steps where the values have steps, so that every bar stands for
    as many of them. An edge lies at a limit, half a step beyond it where there are steps: no bar
    then mixes values within with values beyond, but where the other limit does not fit.

    Source
    ------
    Freedman & Diaconis (1981), Z. Wahrscheinlichkeitstheorie verw. Gebiete 57, 453-476.
    """
    low, high = float(values.min()), float(values.max())
    if low == high:
        return _one_bar(low, len(values), lower, upper)
    wanted, finest = _wanted(values), (high - low) / MOST_BARS
    step = _step(values, wanted)
    width = max(wanted, finest) if step is None else step * max(
        round(wanted / step), math.ceil(finest / step - SAME), 1)
    anchor = _anchor(low, step, lower, upper)
    first = math.ceil((low - anchor) / width) - 1  # a value on an edge is of the bar before it
    last = max(math.ceil((high - anchor) / width), first + 1)
    edges = anchor + width * np.arange(first, last + 1, dtype=np.float64)
    beyond = ((values < (-np.inf if lower is None else lower))
              | (values > (np.inf if upper is None else upper)))
    inside, outside = (_histogram(part, edges) for part in (values[~beyond], values[beyond]))
    return Bars(edges=edges, inside=inside, outside=outside, step=step,
                widened=max(wanted, step or 0) < finest)


def _one_bar(value: float, n: int, lower: float | None, upper: float | None) -> Bars:
    """Values that are all equal, in a bar of some width about them."""
    ends = [end for end in (lower, upper) if end is not None]
    reach = max([abs(end - value) for end in ends]) if ends else abs(value)
    half = 0.03 * (reach or abs(value) or 1.0)
    outside = any((lower is not None and value < lower, upper is not None and value > upper))
    count = np.array([n], dtype=np.int64)
    return Bars(edges=np.array([value - half, value + half]), step=None, widened=False, equal=True,
                inside=0 * count if outside else count, outside=count if outside else 0 * count)


def _wanted(values: Floats) -> float:
    """The width the rule asks for; of values half of which are equal, by their deviation."""
    quarter, three = np.percentile(values, (25, 75)).tolist()
    spread = 2 * (three - quarter) or 3.49 * float(values.std())
    return float(spread / len(values) ** (1 / 3))


def _step(values: Floats, wanted: float) -> float | None:
    """What values are rounded to: the smallest gap, where all others are multiples of it."""
    distinct = np.unique(values)
    if len(distinct) < 2 or len(distinct) > 100_000:
        return None
    gaps = np.diff(distinct)
    gaps = gaps[gaps > 8 * np.spacing(np.abs(distinct).max())]  # decimals differ in their last bit
    step = float(gaps.min(initial=np.inf))
    if not wanted / MOST_STEPS < step < np.inf:
        return None
    parts = (distinct - distinct[0]) / step
    whole = np.abs(parts - np.round(parts)).max() < 0.01
    return step if whole else None


def _anchor(low: float, step: float | None, lower: float | None, upper: float | None) -> float:
    """Where one edge lies."""
    if step is None:
        limits = [limit for limit in (upper, lower) if limit is not None]
        return limits[0] if limits else low
    if upper is not None:
        return low + (math.floor((upper - low) / step + SAME) + 0.5) * step
    if lower is not None:
        return low + (math.ceil((lower - low) / step - SAME) - 0.5) * step
    return low - 0.5 * step


def _histogram(values: Floats, edges: Floats) -> Ints:
    """Counts of values; one on an edge belongs to the bar that ends there."""
    bar = np.clip(np.searchsorted(edges, values, side="left") - 1, 0, len(edges) - 2)
    return np.bincount(bar, minlength=len(edges) - 1).astype(np.int64)
