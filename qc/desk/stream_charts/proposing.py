"""The stretch limits come from: proposed where none is chosen, and judged before it is trusted."""

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Points limits come from, by 1-based positions, less those left out with their cause.

    ``by`` : 'proposed', 'chosen' or 'frozen'. ``steps`` : positions after which the level moved
    anywhere in the points, so that the stretch ends there or begins after.
    """

    first: int
    last: int
    excluded: tuple[Excluded, ...]
    by: str
    steps: tuple[int, ...] = ()

    @property
    def baseline(self) -> Baseline:
        return Baseline(first=self.first, last=self.last, excluded=self.excluded)

    @property
    def n(self) -> int:
        return self.last - self.first + 1 - len(self.excluded)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What speaks against a stretch, and its points that signal: their cause is to be looked for.

    ``step_after`` : the level moved inside it, after this position.
    """

    cautions: tuple[Caution, ...]
    signals: tuple[int, ...]
    step_after: int | None
    n: int

    @property
    def fit(self) -> bool:
        return not self.cautions


def propose(points: Points, kind: str) -> Stretch:
    """The longest stretch without a step of its level; of defects, of those that are long enough,
    the one with the fewest.

    Notes
    -----
    Steps are looked for one after the other, each by the running sum of the standardised points
    (as `qc.stats.charts.phase_one.judge_baseline` does), in what the steps found so far leave.
    """
    bounds = _bounds(scores(points, kind))
    parts = list(zip(bounds, bounds[1:], strict=False))
    enough = [part for part in parts if part[1] - part[0] >= FEW_POINTS]
    if len(enough) > 1 and isinstance(points, CountPoints):
        first, last = min(enough, key=lambda part: _level(points, part))
    else:
        first, last = max(parts, key=lambda part: (part[1] - part[0], -part[0]))
    return Stretch(first=first + 1, last=last, excluded=(), by="proposed",
                   steps=tuple(bounds[1:-1]))


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
    against = AGAINST - OF_WALKS if _rare(points) else AGAINST
    cautions = dict.fromkeys(c for one in found for c in one.cautions if c in against)
    steps = [one.step_after for one in found if one.step_after is not None]
    return Judgement(
        cautions=tuple(cautions), n=stretch.n, step_after=min(steps, default=None),
        signals=tuple(sorted({at for one in found for at in one.signals})))


def scores(points: Points, kind: str) -> Floats:
    """Points on one scale, (points, columns): distance from the middle in their own spread."""
    if isinstance(points, ValuePoints):
        return points.value - points.value.mean(axis=0)
    if _rare(points):
        return np.zeros((len(points), 1))  # mostly points at 0: their sums are no walk
    if kind == "g":
        return _gap_scores(make(points, kind, Wanted()).charts[0].value).reshape(-1, 1)
    main = plain(points, kind, Wanted()).charts[0]
    centre = main.centre if main.centres is None else main.centres
    with np.errstate(divide="ignore", invalid="ignore"):
        z = (main.value - centre) / (main.upper - centre)
    return np.nan_to_num(z, nan=0.0, posinf=0.0, neginf=0.0).reshape(-1, 1)


def _rare(points: Points) -> bool:
    return isinstance(points, CountPoints) and int(points.count.sum()) < RARE * len(points)


def _bounds(z: Floats) -> list[int]:
    """Where the level moved: 0, the positions after which it did, and the number of points."""
    todo, bounds = [(0, len(z))], {0, len(z)}
    while todo:
        first, last = todo.pop()
        found = [step_inside(z[first:last, k]) for k in range(z.shape[1])]
        after, p_value = min(found, key=lambda one: one[1])
        if last - first >= LEAST and p_value < SURE_OF_STEP / z.shape[1] and after:
            bounds.add(first + after)
            todo += [(first, first + after), (first + after, last)]
    return sorted(bounds)


def _level(points: CountPoints, part: tuple[int, int]) -> float:
    """Counted over what the mix gives in a stretch."""
    at = slice(*part)
    expected = float((points.usual[at] * points.n[at]).sum())
    return float(points.count[at].sum()) / expected if expected > 0 else 0.0


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
