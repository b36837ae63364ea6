"""What every control chart returns: plotted points with limits and the rules each one completes."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from qc.stats.blocks import blocks
from qc.stats.charts.baselines import Baseline
from qc.stats.checks import Floats, read_only

SIGNALS = (
    "outside_limits", "two_of_three", "four_of_five", "one_side",
    "trend", "alternating", "stratification", "mixture",
)
"""What a point can say; bit k of a point's byte in ``Chart.signals`` is the k-th name."""

SLACK = 1e-9
"""A point this close to a line, in widths of the band, lies on it: rounding is not a signal."""

EPS = float(np.finfo(np.float64).eps)

FEW_POINTS = 20
"""Limits from fewer points than this are a first guess (ISO 7870-2 asks for 20 to 25)."""

Signals = npt.NDArray[np.uint8]


class Caution(Enum):
    """What a reader must know before trusting limits; the value is the sentence to show."""

    TOO_FEW_POINTS = f"limits rest on fewer than {FEW_POINTS} points: take them as a first guess"
    NO_VARIATION = "the values the limits come from do not vary: any other value signals"
    MORE_VARIATION = (
        "counts vary more than chance allows, so these limits are too narrow and give many false"
        " signals: look for what comes and goes, or take a p-prime or u-prime chart"
    )
    LESS_VARIATION = (
        "counts vary less than chance allows: see how samples are made up and counted before these"
        " limits are trusted"
    )
    NARROWED = (
        "sigma_z is below 1, so these limits are narrower than chance alone sets them: where no"
        " cause for that is known, take the plain p or u chart"
    )
    SMALL_COUNTS = (
        "fewer than 5 are expected in some samples: three-sigma limits give several times as many"
        " false signals above as meant; take probability limits"
    )
    SKEWED = (
        "units between events are skewed: about 2 points in 100 lie above a three-sigma limit by"
        " chance alone; take probability limits"
    )
    BLIND_BELOW = (
        "no point can lie below the lower limit, so events that come closer together do not cross"
        " it: take probability limits with the rule one_side, or watch their rate with a CUSUM"
    )
    BURSTS = (
        "times between events vary more than one steady rate gives: events come in bursts, or the"
        " rate moved, so these limits are too narrow and give many false signals"
    )
    REGULAR = (
        "times between events vary less than events at random give, so these limits are too wide:"
        " look for what comes round at intervals, or take three-sigma limits"
    )
    ZERO_TIMES = (
        "some times between events are 0: they were recorded too coarsely, or one event twice"
    )
    NOTHING_COUNTED = "nothing was counted in the points the limits come from"
    LARGE_FOR_RANGE = (
        "the range uses only two of more than 10 values in a subgroup: chart standard deviations"
        " beside the means instead"
    )
    UNEQUAL_SPREADS = (
        "parts differ in their spread, so one pair of limits does not fit them all: take the"
        " standardised chart"
    )
    NOTHING_VARIED = (
        "the first values are all equal, so nothing could be said of the ones after them: record"
        " finer"
    )
    RULES_FOR_OTHERS = (
        "some of the rules asked for are made for points that spread alike above and below the"
        " centre line, as a bell shape does, and do not suit this chart: their false signals come"
        " more often or more seldom than is said of them"
    )
    UNSTABLE = (
        "more of the points these limits come from are beyond them than chance gives: find the"
        " causes, leave those points out with their reasons, and chart again"
    )
    LEVEL_MOVED = (
        "the level moved inside the points the limits come from: take the part after the step"
    )
    NEIGHBOURS_ALIKE = (
        "neighbouring points are alike, so these limits are too narrow and give many false"
        " signals: take points further apart, or chart what each adds to the one before"
    )
    NEIGHBOURS_OPPOSED = (
        "neighbouring points swing to and fro, so these limits are too wide: somebody may be"
        " adjusting after every point"
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chart:
    """One plotted statistic.

    ``value``, ``lower``, ``upper`` : float64, one for each point, in the unit of the data,
    read-only; nan where a limit does not exist. ``signals`` : uint8, bits as in `SIGNALS`.
    ``first_at`` : 1-based position of the first point (2 for a moving range). ``centres`` : the
    centre line at each point where it follows the point's size; ``centre`` is nan then.
    """

    name: str
    centre: float
    value: Floats
    lower: Floats
    upper: Floats
    signals: Signals
    first_at: int = 1
    centres: Floats | None = None

    @property
    def at(self) -> npt.NDArray[np.int64]:
        """1-based positions of the points."""
        return np.arange(self.first_at, self.first_at + len(self.value))

    def signalled(self, name: str = "outside_limits") -> npt.NDArray[np.int64]:
        """1-based positions of the points with this signal."""
        return self.at[(self.signals & bit(name)) != 0]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ControlChart:
    """A control chart: its main statistic first, then the one that goes with it.

    ``sigma`` : standard deviation of a single value in the unit of the data; None for counts,
    whose spread follows from the centre. ``baseline`` : the plotted points the limits come from;
    None where both centre and spread were given.
    """

    kind: str
    source: str
    sigma: float | None
    charts: tuple[Chart, ...]
    baseline: Baseline | None
    cautions: tuple[Caution, ...]


def bit(name: str) -> int:
    """The bit of a signal in a point's byte."""
    return 1 << SIGNALS.index(name)


def names_of(signals: int) -> tuple[str, ...]:
    """The names of the signals in a point's byte."""
    return tuple(name for k, name in enumerate(SIGNALS) if int(signals) >> k & 1)


def make_chart(
    name: str, centre: Floats | float, value: Floats, lower: Floats | float,
    upper: Floats | float, *, patterns: Signals | None = None, first_at: int = 1,
) -> Chart:
    """A chart from its line and limits; marks what is beyond them and adds ``patterns``."""
    several = isinstance(centre, np.ndarray) and centre.ndim == 1
    signals = outside(value, float(np.mean(centre)), lower, upper)
    if patterns is not None:
        signals |= patterns
    return Chart(
        name=name, centre=np.nan if several else float(centre), value=read_only(value),
        lower=_each(lower, value), upper=_each(upper, value), signals=read_only(signals),
        first_at=first_at, centres=_each(centre, value) if several else None,
    )


def outside(
    value: Floats, centre: float, lower: Floats | float, upper: Floats | float
) -> Signals:
    """The bit of ``outside_limits`` for each point strictly beyond a limit."""
    beyond = np.empty(len(value), dtype=np.bool_)
    for part in blocks(len(value)):  # in the cache: two comparisons, no second mask
        np.greater(value[part], _at(upper, part), out=beyond[part])
        beyond[part] |= value[part] < _at(lower, part)
    at = np.flatnonzero(beyond)
    if len(at):  # few: only they are looked at again for rounding
        above, below = _at(upper, at), _at(lower, at)
        reach = (float(np.max(upper)) - centre, centre - float(np.min(lower)))
        slack = rounding(centre, max((r for r in reach if np.isfinite(r)), default=0.0))
        beyond[at] = (value[at] > above + slack) | (value[at] < below - slack)
    return beyond.view(np.uint8)


def _at(limit: Floats | float, at: slice | npt.NDArray[np.int64]) -> Floats | float:
    return limit[at] if isinstance(limit, np.ndarray) and limit.ndim else limit


def standardised(value: Floats, centre: float, sigma: Floats | float) -> Floats:
    """Distance of each point from the centre line in its own sigma; 0 when it lies on it.

    Without variation (sigma 0) a point off the centre line is infinitely far from it.
    """
    distance = value - centre
    distance[np.abs(distance) <= rounding(centre, np.max(np.abs(distance)))] = 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        z: Floats = distance / sigma
    z[distance == 0] = 0.0
    return z


def rounding(centre: float, width: float) -> float:
    """Distance below which two numbers of this size are one number computed in two ways."""
    return 64 * EPS * (abs(centre) + abs(float(width)))


def _each(limit: Floats | float, value: Floats) -> Floats:
    # a constant limit is one number seen at every point, without the memory of an array
    return read_only(np.broadcast_to(np.asarray(limit, dtype=np.float64), value.shape))
