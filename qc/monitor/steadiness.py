"""Does a stretch of work hold together? The rate of each kind, day by day, against its mix.

Each stream (a kind of defect in the shop, a kind on one press, all kinds together) is asked
whether its level moved; where the surest of them did, the stretch is cut there and each part is
asked again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from qc.domain.baselines import Move
from qc.monitor.evidence import Floats, Ints, sum_by
from qc.monitor.history import History, usual_of
from qc.stats.charts.chart import Caution
from qc.stats.charts.laney import u_prime_chart
from qc.stats.charts.phase_one import judge_baseline, step_inside

STEP_DEFECTS = 2.0
"""Days are put together until so many defects are expected of a point, to look for a move."""

CHART_DEFECTS = 5.0
"""The same for a point of a chart, whose limits are unfair to smaller counts."""

SURE_OF_MOVE = 0.05
"""Chance of cutting a steady stretch, over all its streams together."""

SHORTEST_DAYS = 3
"""Nothing shorter is cut off: it would be an outlier, not a level."""

MATTERS = (Caution.UNSTABLE, Caution.NEIGHBOURS_ALIKE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """Days ``first`` to before ``stop`` of a history."""

    first: int
    stop: int

    @property
    def n_days(self) -> int:
        return self.stop - self.first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Streams:
    """Observed and expected defects, (streams, days); the first stream is all kinds together."""

    names: tuple[tuple[str | None, str | None], ...]
    observed: Floats
    expected: Floats


def streams_of(history: History, stretch: Stretch) -> Streams:
    """The streams of a stretch, expected from the stretch's own usual rates."""
    rows = (history.day >= stretch.first) & (history.day < stretch.stop)
    expected = history.n[rows] * usual_of(history, rows)[history.cell[rows]]
    seen, day, press = history.y[rows], history.day[rows] - stretch.first, history.press[rows]
    by_shop = [_by_day(day, part, stretch.n_days) for part in (seen, expected)]
    names: list[tuple[str | None, str | None]] = [(None, None)]
    names += [(kind, None) for kind in history.kinds]
    parts = [[part.sum(axis=0, keepdims=True), part] for part in by_shop]
    for number, name in enumerate(history.presses):
        mine = press == number
        names += [(kind, name) for kind in history.kinds]
        for found, part in zip(parts, (seen, expected), strict=True):
            found.append(_by_day(day[mine], part[mine], stretch.n_days))
    observed, expects = (np.concatenate(part) for part in parts)
    return Streams(names=tuple(names), observed=observed, expected=expects)


def steady_stretches(history: History) -> tuple[tuple[Stretch, ...], tuple[Move, ...]]:
    """The stretches a history falls into, in order, and the moves between them."""
    todo, steady, moves = [Stretch(first=0, stop=history.n_days)], [], []
    while todo:
        stretch = todo.pop()
        move = surest_move(history, stretch)
        if move is None:
            steady.append(stretch)
            continue
        moves.append(move)
        todo += [Stretch(first=stretch.first, stop=move.day),
                 Stretch(first=move.day, stop=stretch.stop)]
    return (tuple(sorted(steady, key=lambda one: one.first)),
            tuple(sorted(moves, key=lambda one: one.day)))


def surest_move(history: History, stretch: Stretch) -> Move | None:
    """The surest move of any stream inside a stretch; None where none is shown."""
    if stretch.n_days < 2 * SHORTEST_DAYS or not history.kinds:
        return None
    streams = streams_of(history, stretch)
    sigma = sigma_of(streams)
    found = [(step, at) for at in range(len(streams.names))
             if (step := _step(streams, at, sigma))]
    if not found:
        return None
    (day, p_value), at = min(found, key=lambda one: one[0][1])
    if p_value * len(found) >= SURE_OF_MOVE:
        return None
    day = min(max(day, SHORTEST_DAYS), stretch.n_days - SHORTEST_DAYS)
    kind, press = streams.names[at]
    return Move(kind=kind, press=press, day=stretch.first + day, p_value=p_value,
                ratio=_ratio(streams.observed[at], streams.expected[at], day))


def cautions_of(streams: Streams) -> tuple[tuple[Caution, ...], Ints]:
    """What a judgement of all kinds together says against a stretch, and the days that signal."""
    group = points(streams.expected[0], CHART_DEFECTS)
    if group.max(initial=-1) < 3:
        return (), np.zeros(0, dtype=np.int64)
    judged = judge_baseline(u_prime_chart(*_summed(streams, 0, group)))
    said = tuple(caution for caution in judged.cautions if caution in MATTERS)
    signals = np.array(judged.signals, dtype=np.int64) - 1
    return said, np.flatnonzero(np.isin(group, signals))


def sigma_of(streams: Streams) -> float:
    """How many times as much as chance all kinds together vary from point to point; 1 or more."""
    group = points(streams.expected[0], CHART_DEFECTS)
    if group.max(initial=-1) < 3:
        return 1.0
    return max(u_prime_chart(*_summed(streams, 0, group)).sigma or 1.0, 1.0)


def points(expected: Floats, least: float) -> Ints:
    """Number of the point that each day belongs to, ``least`` expected of each; -1 where so much
    is never expected."""
    group = np.zeros(len(expected), dtype=np.int64)
    number, so_far = 0, 0.0
    for day, more in enumerate(expected.tolist()):
        group[day] = number
        so_far += more
        if so_far >= least:
            number, so_far = number + 1, 0.0
    return np.minimum(group, number - 1)


def _by_day(day: Ints, rows: Floats, n_days: int) -> Floats:
    """Sums by day, (columns, days)."""
    return np.stack([sum_by(day, column, n_days) for column in rows.T])


def _summed(streams: Streams, at: int, group: Ints) -> tuple[Floats, Floats]:
    return sum_by(group, streams.observed[at]), sum_by(group, streams.expected[at])


def _step(streams: Streams, at: int, sigma: float) -> tuple[int, float] | None:
    """First day after the likeliest step of a stream, and its p-value; None: too few defects."""
    group = points(streams.expected[at], STEP_DEFECTS)
    if group.max(initial=-1) < 3:
        return None
    seen, expected = _summed(streams, at, group)
    level = seen.sum() / expected.sum()
    spread = np.sqrt(np.maximum(level, 1e-12) * expected)
    n_before, p_value = step_inside((seen - level * expected) / spread, sigma=sigma)
    return int(np.searchsorted(group, n_before)), p_value


def _ratio(observed: Floats, expected: Floats, day: int) -> float | None:
    if observed[:day].sum() == 0 or expected[day:].sum() == 0:
        return None
    before = observed[:day].sum() / expected[:day].sum()
    return float(observed[day:].sum() / expected[day:].sum() / before)


def how_much_higher(history: History, one: Stretch, other: Stretch) -> float:
    """How far the stream that stands out most stands higher in ``one`` than in ``other``, for the
    same mix, in standard errors; 0 where none does beyond chance."""
    first, stop = min(one.first, other.first), max(one.stop, other.stop)
    streams = streams_of(history, Stretch(first=first, stop=stop))
    (y1, e1), (y2, e2) = (_totals(streams, part, first) for part in (one, other))
    asked = (e1 >= CHART_DEFECTS) & (e2 >= CHART_DEFECTS)
    if not asked.any():
        return 0.0
    y1, e1, y2, e2 = (part[asked] for part in (y1, e1, y2, e2))
    level = np.maximum((y1 + y2) / (e1 + e2), 1e-12)
    z = (y1 / e1 - y2 / e2) / (sigma_of(streams) * np.sqrt(level * (1 / e1 + 1 / e2)))
    reach = -ndtri(SURE_OF_MOVE / len(z))
    return float(z.max()) if z.max() > reach else 0.0


def _totals(streams: Streams, part: Stretch, first: int) -> tuple[Floats, Floats]:
    inside = slice(part.first - first, part.stop - first)
    return streams.observed[:, inside].sum(axis=1), streams.expected[:, inside].sum(axis=1)
