"""Phase I: is a baseline fit to judge later points by? Then its limits are frozen for phase II."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import bdtrc, kolmogorov, ndtri

from qc.stats.charts.autocorrelation import Likeness, likeness
from qc.stats.charts.baselines import Baseline, BasePoints, base_points
from qc.stats.charts.chart import FEW_POINTS, Caution, Chart, ControlChart, bit
from qc.stats.checks import Floats

SURE = 0.01
"""Chance of calling a stable baseline unstable by its points beyond limits, each way of asking."""
BEYOND = (0.0027, 0.01)
"""Share of points beyond three sigma in a stable process: among values, at most among ranges."""
RANGE_TAIL = 1.3
"""Ranges reach this much further beyond their limits than normal values of the same chance."""
SURE_OF_STEP = 0.005
"""Chance of seeing a step inside a baseline that has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BaselineJudgement:
    """Whether limits from these points may be frozen, and what speaks against it.

    ``signals`` : 1-based positions inside the baseline where any of the charts signals: look for
    the cause of each; found, the point is left out with that reason, else it stays.
    ``step_after`` : the level moved after this point; None where no step is shown.
    ``cautions`` in the order to be read.
    """

    baseline: Baseline
    n: int
    signals: tuple[int, ...]
    step_after: int | None
    step_p_value: float
    likeness: Likeness
    cautions: tuple[Caution, ...]

    @property
    def fit(self) -> bool:
        """Nothing speaks against freezing these limits."""
        return not self.cautions


@dataclass(frozen=True, slots=True, kw_only=True)
class FrozenLimits:
    """Centre and spread of a baseline, fixed for the points that come after it (phase II).

    ``sigma`` is None for counts. `known` is what the chart function of ``kind`` takes.
    """

    kind: str
    centre: float
    sigma: float | None
    judgement: BaselineJudgement

    @property
    def known(self) -> dict[str, float]:
        """Keyword arguments that chart new points by these limits."""
        given = {"centre": self.centre, "sigma": self.sigma}
        return {name: value for name, value in given.items() if value is not None}


def judge_baseline(chart: ControlChart) -> BaselineJudgement:
    """Is the baseline of this chart fit to judge later points by?

    Parameters
    ----------
    chart : a Shewhart chart whose limits come, at least in part, from its own points

    Raises
    ------
    ValueError
        Centre and spread were both given: there is no baseline to judge.

    Notes
    -----
    Asked in turn: enough points (ISO 7870-2: 20 to 25); more points beyond limits, or one further
    beyond them, than a stable process shows in one of a hundred baselines of this length; no step
    of the level, by the largest distance of the running sum of standardised points from the
    straight line to its end against the distribution of a Brownian bridge; neighbours not alike;
    no variation at all, or counts more or less variable than chance. Points beyond limits that are
    as few as chance may give are listed for their cause to be looked for, and do not make a
    baseline unfit; none is left out without a cause found.

    Source
    ------
    Phase I: ISO 7870-2:2013 and Montgomery, Introduction to Statistical Quality Control. Step:
    Page (1955), Biometrika 42; limit distribution Kolmogorov (1933), as in Ploberger & Kraemer
    (1992), Econometrica 60 (from memory).
    """
    if chart.baseline is None:
        raise ValueError("chart has given centre and sigma; a judgement needs a baseline")
    main = chart.charts[0]
    base = base_points(chart.baseline, len(main.value))
    z = _in_bands(main, base.at)
    step_after, p_value = step_inside(z)
    alike = likeness(z)
    return BaselineJudgement(
        baseline=chart.baseline, n=base.n, signals=_signals(chart, base), step_p_value=p_value,
        step_after=_position(base, step_after) if p_value < SURE_OF_STEP else None,
        likeness=alike, cautions=_cautions(chart, base, p_value, alike),
    )


def freeze(chart: ControlChart) -> FrozenLimits:
    """The limits of this chart's baseline, for points that come after it.

    Raises
    ------
    ValueError
        As `judge_baseline`, or the chart's centre follows the size of its points or is not in the
        unit of the data (an accumulating or a multivariate chart is given its target instead).
    """
    main = chart.charts[0]
    if chart.kind in ("cusum", "t2", "mewma") or np.isnan(main.centre):
        raise ValueError(f"chart is of kind {chart.kind!r}; freeze the individuals or mean chart of"
                         " its values, and give their centre and sigma to it")
    return FrozenLimits(kind=chart.kind, centre=main.centre, sigma=chart.sigma,
                        judgement=judge_baseline(chart))


def step_inside(points: npt.ArrayLike, *, sigma: float | None = None) -> tuple[int, float]:
    """Where the level of a series most likely moved, and the chance of so much without a step.

    Parameters
    ----------
    points : n values in time order, on one scale
    sigma : known standard deviation of a point without a step, above 0; else from moving ranges

    Returns
    -------
    Number of points before the step, and the p-value (1 where the points do not vary).

    Raises
    ------
    ValueError
        ``sigma`` is given and not above 0.

    Notes
    -----
    Spread from moving ranges, which a single step hardly widens. The limit distribution makes the
    test cautious for few points.
    """
    x = np.asarray(points, dtype=np.float64)
    if len(x) < 4 or np.ptp(x) == 0:
        return 0, 1.0
    if sigma is None:
        sigma = float(np.abs(np.diff(x)).mean()) * np.sqrt(np.pi) / 2
    elif not sigma > 0:
        raise ValueError(f"sigma is {sigma:g}; it must be a number above 0")
    bridge = np.abs(np.cumsum(x - x.mean())[:-1])
    at = int(np.argmax(bridge))
    return at + 1, float(kolmogorov(bridge[at] / (sigma * np.sqrt(len(x)))))


def _in_bands(part: Chart, at: slice | npt.NDArray[np.int64]) -> Floats:
    """Distance from the centre in half widths of the band; 0 where the band has none."""
    centre = part.centre if part.centres is None else part.centres[at]
    with np.errstate(invalid="ignore", divide="ignore"):
        z: Floats = (part.value[at] - centre) / (part.upper[at] - centre)
    return np.nan_to_num(z, nan=0.0, posinf=0.0, neginf=0.0)


def _unstable(chart: ControlChart, base: BasePoints) -> bool:
    main, *others = chart.charts
    return _too_many(main, base, BEYOND[0], 1.0) or any(
        _too_many(other, base, BEYOND[1], RANGE_TAIL) for other in others)


def _too_many(part: Chart, base: BasePoints, rate: float, tail: float) -> bool:
    """More points beyond limits, or one further beyond, than chance gives a stable process."""
    n_beyond = sum(base.holds(int(at)) for at in part.signalled())
    if n_beyond == 0:
        return False
    if bdtrc(n_beyond - 1, base.n, rate) < SURE:
        return True
    far = -ndtri(SURE / (2 * base.n)) / 3 * tail
    beyond = part.signals & bit("outside_limits") != 0
    distance = np.abs(_in_bands(part, beyond.nonzero()[0]))
    return any(base.holds(int(at)) for at in part.signalled()[distance > far])


def _signals(chart: ControlChart, base: BasePoints) -> tuple[int, ...]:
    found = {int(at) for part in chart.charts for at in part.at[part.signals != 0]}
    return tuple(sorted(at for at in found if base.holds(at)))


def _position(base: BasePoints, n_before: int) -> int:
    """1-based position of the last baseline point before a step."""
    if isinstance(base.at, slice):
        return base.baseline.first + n_before - 1
    return int(base.at[n_before - 1]) + 1


def _cautions(
    chart: ControlChart, base: BasePoints, step_p_value: float, alike: Likeness
) -> tuple[Caution, ...]:
    asked = (
        (base.n < FEW_POINTS, Caution.TOO_FEW_POINTS),
        (_unstable(chart, base), Caution.UNSTABLE),
        (step_p_value < SURE_OF_STEP, Caution.LEVEL_MOVED),
        (alike.matters and alike.r > 0, Caution.NEIGHBOURS_ALIKE),
        (alike.matters and alike.r < 0, Caution.NEIGHBOURS_OPPOSED),
    )
    found = [caution for applies, caution in asked if applies]
    return tuple(dict.fromkeys([*found, *chart.cautions]))
