"""The stretch limits come from, judged before it is trusted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.desk.stream_charts.advice import RARE
from qc.desk.stream_charts.making import Wanted, make, plain
from qc.desk.stream_charts.points import CountPoints, Floats, Points, ValuePoints
from qc.stats.charts.baselines import Baseline, Excluded
from qc.stats.charts.chart import FEW_POINTS, Caution, ControlChart
from qc.stats.charts.individuals import individuals_chart
from qc.stats.charts.phase_one import SURE_OF_STEP, judge_baseline, step_inside

LEAST = 8
"""Fewer points than this cannot tell their spread; no limits are drawn."""


AGAINST = frozenset({
    Caution.TOO_FEW_POINTS, Caution.NO_VARIATION, Caution.MORE_VARIATION, Caution.LESS_VARIATION,
    Caution.NOTHING_COUNTED, Caution.UNSTABLE, Caution.LEVEL_MOVED, Caution.NEIGHBOURS_ALIKE,
    Caution.NEIGHBOURS_OPPOSED,
})
"""What speaks against a stretch; other cautions are of the chart, whatever its stretch."""


OF_WALKS = frozenset({Caution.LEVEL_MOVED, Caution.NEIGHBOURS_ALIKE, Caution.NEIGHBOURS_OPPOSED})
"""What is judged by sums and neighbours: points that are mostly 0 are no case for it."""


FLAGGED = (
    "an open flag or case is about {n} of these {of} points: what is off there would count as"
    " usual, and good work would signal")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Points limits come from, by 1-based positions, less those left out with their cause.

    ``by`` : 'proposed', 'chosen' or 'frozen'. ``steps`` : positions after which the level moved
    anywhere in the points, so that the stretch ends there or begins after. ``why`` : sentences on
    why this one is proposed.
    """

    first: int
    last: int
    excluded: tuple[Excluded, ...]
    by: str
    steps: tuple[int, ...] = ()
    why: tuple[str, ...] = ()

    @property
    def baseline(self) -> Baseline:
        return Baseline(first=self.first, last=self.last, excluded=self.excluded)

    @property
    def n(self) -> int:
        return self.last - self.first + 1 - len(self.excluded)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What speaks against a stretch, and its points that signal: their cause is to be looked for.

    ``step_after`` : the level moved inside it, after this position. ``flagged`` : points of it
    that an open flag or case is about.
    """

    cautions: tuple[Caution, ...]
    signals: tuple[int, ...]
    step_after: int | None
    n: int
    flagged: int = 0

    @property
    def fit(self) -> bool:
        return not self.cautions and not self.flagged

    @property
    def against(self) -> tuple[str, ...]:
        """What speaks against the stretch, in words."""
        flagged = (FLAGGED.format(n=self.flagged, of=self.n),) if self.flagged else ()
        return (*flagged, *(one.value for one in self.cautions))


def judge(points: Points, kind: str, stretch: Stretch, rules: str = "limits") -> Judgement:
    """What a stretch is like to rest limits on."""
    wanted = Wanted(baseline=stretch.baseline, rules=rules)
    if kind == "g":
        return _judge_gaps(points, make(points, kind, wanted), stretch)
    if isinstance(points, ValuePoints) and kind in ("t2", "mewma"):
        charts = [individuals_chart(points.value[:, k], baseline=stretch.baseline)
                  for k in range(points.value.shape[1])]
    else:
        charts = [plain(points, kind, wanted)]
    found = [judge_baseline(chart) for chart in charts]
    against = AGAINST - OF_WALKS if is_rare(points) else AGAINST
    cautions = dict.fromkeys(c for one in found for c in one.cautions if c in against)
    steps = [one.step_after for one in found if one.step_after is not None]
    return Judgement(
        cautions=tuple(cautions), n=stretch.n, step_after=min(steps, default=None),
        signals=tuple(sorted({at for one in found for at in one.signals})))


def scores(points: Points, kind: str) -> Floats:
    """Points on one scale, (points, columns): distance from the middle in their own spread."""
    if isinstance(points, ValuePoints):
        return points.value - points.value.mean(axis=0)
    if is_rare(points):
        return np.zeros((len(points), 1))  # mostly points at 0: their sums are no walk
    if kind == "g":
        return _gap_scores(make(points, kind, Wanted()).charts[0].value).reshape(-1, 1)
    main = plain(points, kind, Wanted()).charts[0]
    centre = main.centre if main.centres is None else main.centres
    with np.errstate(divide="ignore", invalid="ignore"):
        z = (main.value - centre) / (main.upper - centre)
    return np.nan_to_num(z, nan=0.0, posinf=0.0, neginf=0.0).reshape(-1, 1)


def is_rare(points: Points) -> bool:
    """Whether most points are at 0."""
    return isinstance(points, CountPoints) and int(points.count.sum()) < RARE * len(points)


def _gap_scores(between: Floats) -> Floats:
    """Square roots of the runs: nearly even in spread, which the search for a step asks for."""
    root: Floats = np.sqrt(between)
    return root


def _judge_gaps(points: Points, chart: ControlChart, stretch: Stretch) -> Judgement:
    left = {one.at for one in stretch.excluded}
    at = [k for k in range(stretch.first, stretch.last + 1) if k not in left]
    after, p_value = step_inside(_gap_scores(chart.charts[0].value[np.array(at) - 1]))
    moved = p_value < SURE_OF_STEP
    cautions = ((Caution.TOO_FEW_POINTS,) if len(at) < FEW_POINTS else ()) + (
        (Caution.LEVEL_MOVED,) if moved else ())
    signals = [int(k) for k in chart.charts[0].at[chart.charts[0].signals != 0] if int(k) in at]
    return Judgement(cautions=cautions, signals=tuple(signals), n=len(at),
                     step_after=at[after - 1] if moved else None)
