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
    for more bars than can be told apart.
    """

    edges: Floats
    inside: Ints
    outside: Ints
    step: float | None
    widened: bool

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
    wanted = _wanted(values, low, high)
    step = _step(values, wanted)
    finest = max(wanted, (high - low) / MOST_BARS)
    width = finest if step is None else max(round(wanted / step), 1) * step
    if step is not None and width < (high - low) / MOST_BARS:
        width = math.ceil(finest / step - SAME) * step
    anchor = _anchor(low, step, lower, upper)
    first = math.floor((low - anchor) / width + (SAME if step else -SAME))
    last = max(math.ceil((high - anchor) / width - SAME), first + 1)
    edges = anchor + width * np.arange(first, last + 1, dtype=np.float64)
    beyond = ((values < (-np.inf if lower is None else lower))
              | (values > (np.inf if upper is None else upper)))
    inside, outside = (_histogram(part, edges) for part in (values[~beyond], values[beyond]))
    return Bars(edges=edges, inside=inside, outside=outside, step=step,
                widened=max(wanted, step or 0) < (high - low) / MOST_BARS)


def _wanted(values: Floats, low: float, high: float) -> float:
    """The width the rule asks for; of values most of which are equal, by their deviation."""
    quarter, three = np.percentile(values, (25, 75)).tolist()
    spread = 2 * (three - quarter) or 3.49 * float(values.std())
    return spread / len(values) ** (1 / 3) or 0.02 * (abs(high) or 1.0)


def _step(values: Floats, wanted: float) -> float | None:
    """What values are rounded to: the smallest gap, where all others are multiples of it."""
    distinct = np.unique(values)
    if len(distinct) < 2 or len(distinct) > 100_000:
        return None
    gaps = np.diff(distinct)
    gaps = gaps[gaps > SAME * (distinct[-1] - distinct[0])]
    step = float(gaps.min())
    parts = (distinct - distinct[0]) / step
    whole = np.abs(parts - np.round(parts)).max() < 0.01
    return step if whole and wanted / step < MOST_STEPS else None


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
